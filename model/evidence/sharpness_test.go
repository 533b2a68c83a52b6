package evidence

import (
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomonobold"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"pgregory.net/rapid"
)

// plate draws a serial plate as a close-up fills the picture with it.
func plate(t testing.TB, width, height int) *image.Gray {
	t.Helper()
	parsed, err := opentype.Parse(gomonobold.TTF)
	if err != nil {
		t.Fatal(err)
	}
	face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: float64(width) / 20, DPI: 72})
	if err != nil {
		t.Fatal(err)
	}
	g := image.NewGray(image.Rect(0, 0, width, height))
	for i := range g.Pix {
		g.Pix[i] = 190
	}
	pen := font.Drawer{Dst: g, Src: image.NewUniform(color.Gray{50}), Face: face}
	for i, line := range []string{"BRINDLE IMPACT WRENCH", "MODEL BX-900  20 V", "SER. KD408B217", "0-2400 RPM  1/2 IN", "1150 N·m MAX", "READ THE MANUAL"} {
		pen.Dot = fixed.P(width/14, height/7+i*height/7)
		pen.DrawString(line)
	}
	return g
}

// blurred is the picture under a Gaussian of that standard deviation in pixels,
// in one dimension after the other, out to three deviations.
func blurred(g *image.Gray, sigma float64) *image.Gray {
	reach := int(math.Ceil(3 * sigma))
	var kernel []float64
	total := 0.0
	for i := -reach; i <= reach; i++ {
		k := math.Exp(-float64(i*i) / (2 * sigma * sigma))
		kernel, total = append(kernel, k), total+k
	}
	pass := func(src *image.Gray, dx, dy int) *image.Gray {
		dst := image.NewGray(src.Rect)
		size := src.Rect.Size()
		for y := range size.Y {
			for x := range size.X {
				sum := 0.0
				for i, k := range kernel {
					at := i - reach
					sx, sy := min(max(x+at*dx, 0), size.X-1), min(max(y+at*dy, 0), size.Y-1)
					sum += k * float64(src.GrayAt(sx, sy).Y)
				}
				dst.SetGray(x, y, color.Gray{uint8(sum/total + 0.5)})
			}
		}
		return dst
	}
	return pass(pass(g, 1, 0), 0, 1)
}

func TestABlurredPlateIsQuestioned(t *testing.T) {
	sharp := plate(t, JudgedSide, 768)
	last := math.Inf(1)
	for _, c := range []struct {
		sigma    float64 // pixels of the judged copy; 0: as drawn
		question bool
	}{{0, false}, {0.5, false}, {1.5, true}, {3, true}, {5, true}, {8, true}} {
		g := sharp
		if c.sigma > 0 {
			g = blurred(sharp, c.sigma)
		}
		s := Sharpness(g)
		if s >= last {
			t.Errorf("blurred by %.1f the sharpness is %.0f, and %.0f with less", c.sigma, s, last)
		}
		last = s
		said := Quality{Sharpness: s, ShorterSide: 3000}.Question()
		if (said != "") != c.question {
			t.Errorf("blurred by %.1f: sharpness %.0f, asked %q", c.sigma, s, said)
		}
		t.Logf("blurred by %.1f: sharpness %.0f", c.sigma, s)
	}
}

func TestTheQuestionGivesTheFigureAndTheThreshold(t *testing.T) {
	for _, c := range []struct {
		q    Quality
		want []string
	}{
		{Quality{Sharpness: 38.9, ShorterSide: 3000}, []string{"sharpness 38; a plate that can be read has 100 or more", "take it again, closer, with light from the side"}},
		{Quality{Sharpness: 500, ShorterSide: 240}, []string{"shorter side 240 pixels", "480 or more", "full resolution"}},
		{Quality{Sharpness: 99.99, ShorterSide: 479}, []string{"sharpness 99;", "shorter side 479"}},
		{Quality{Sharpness: 100, ShorterSide: 480}, nil},
	} {
		got := c.q.Question()
		if (got == "") != (c.want == nil) {
			t.Errorf("%+v: asked %q", c.q, got)
		}
		for _, part := range c.want {
			if !strings.Contains(got, part) {
				t.Errorf("%+v: asked %q, which lacks %q", c.q, got, part)
			}
		}
	}
}

// A checkerboard of two levels d apart has the Laplacian +4d or -4d everywhere,
// so its variance is 16d² when both are equally many; worked out by hand.
func TestSharpnessOfPatternsWorkedOutByHand(t *testing.T) {
	board := image.NewGray(image.Rect(0, 0, 10, 10))
	for i := range board.Pix {
		board.Pix[i] = uint8(100 + 10*((i%10+i/10)%2))
	}
	if got := Sharpness(board); got != 1600 {
		t.Errorf("checkerboard: %v, want 1600", got)
	}
	ramp := image.NewGray(image.Rect(0, 0, 20, 20))
	for i := range ramp.Pix {
		ramp.Pix[i] = uint8(i % 20 * 10)
	}
	for what, g := range map[string]*image.Gray{"ramp": ramp, "flat": image.NewGray(image.Rect(0, 0, 9, 9)), "tiny": image.NewGray(image.Rect(0, 0, 2, 50))} {
		if got := Sharpness(g); got != 0 {
			t.Errorf("%s: %v, want 0", what, got)
		}
	}
}

// Sharpness against the definition in floating point, over sub-pictures too.
func TestSharpnessIsAVariance(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w, h := rapid.IntRange(3, 12).Draw(rt, "w"), rapid.IntRange(3, 12).Draw(rt, "h")
		whole := image.NewGray(image.Rect(0, 0, w+3, h+2))
		copy(whole.Pix, rapid.SliceOfN(rapid.Byte(), len(whole.Pix), len(whole.Pix)).Draw(rt, "pix"))
		g := whole.SubImage(image.Rect(2, 1, w+2, h+1)).(*image.Gray)
		at := func(x, y int) float64 { return float64(g.GrayAt(x+2, y+1).Y) }
		var all []float64
		mean := 0.0
		for y := 1; y < h-1; y++ {
			for x := 1; x < w-1; x++ {
				l := at(x-1, y) + at(x+1, y) + at(x, y-1) + at(x, y+1) - 4*at(x, y)
				all, mean = append(all, l), mean+l
			}
		}
		mean /= float64(len(all))
		want := 0.0
		for _, l := range all {
			want += (l - mean) * (l - mean)
		}
		want /= float64(len(all))
		if got := Sharpness(g); math.Abs(got-want) > 1e-6*(1+want) {
			rt.Errorf("%v, want %v", got, want)
		}
	})
}
