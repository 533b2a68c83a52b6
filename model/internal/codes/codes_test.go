package codes

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"pawl/labels"
)

// label draws the real label of a number, as it prints at 300 dots an inch.
func label(t testing.TB, symbol, number string) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := labels.PNG(&b, labels.Text{Symbol: symbol, Number: number, Lines: []string{"Demo garage"}}, labels.PNGOptions{DPI: 300}); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// bench is a photo of a workbench: uneven light and grain.
func bench(seed uint64, width, height int) *image.RGBA {
	r := rand.New(rand.NewPCG(seed, 1))
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			v := 90 + 40*x/width + 20*y/height + r.IntN(17)
			img.SetRGBA(x, y, color.RGBA{uint8(v), uint8(v - 10), uint8(v - 25), 255})
		}
	}
	return img
}

// lay puts a label into a photo, its width that share of the photo's, turned by
// degrees about a point.
func lay(photo *image.RGBA, l image.Image, share, degrees float64, at image.Point) {
	scale := share * float64(photo.Rect.Dx()) / float64(l.Bounds().Dx())
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	sin, cos = sin*scale, cos*scale
	cx, cy := float64(l.Bounds().Dx())/2, float64(l.Bounds().Dy())/2
	m := f64.Aff3{cos, -sin, float64(at.X) - cos*cx + sin*cy, sin, cos, float64(at.Y) - sin*cx - cos*cy}
	draw.ApproxBiLinear.Transform(photo, m, l, l.Bounds(), draw.Over, nil)
}

// shot is what a camera makes of a photo: grain over all of it, and a JPEG.
func shot(t testing.TB, photo *image.RGBA, noise int) *image.RGBA {
	t.Helper()
	r := rand.New(rand.NewPCG(7, 7))
	for i := range photo.Pix {
		if i%4 != 3 {
			photo.Pix[i] = uint8(min(max(int(photo.Pix[i])+r.IntN(2*noise+1)-noise, 0), 255))
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, photo, &jpeg.Options{Quality: 80}); err != nil {
		t.Fatal(err)
	}
	img, err := jpeg.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	out := image.NewRGBA(img.Bounds())
	draw.Draw(out, out.Rect, img, img.Bounds().Min, draw.Src)
	return out
}

func TestALabelInAPhotoIsRead(t *testing.T) {
	l := label(t, "T/00EKM5", "00E-KM5")
	for _, c := range []struct {
		share, degrees float64
		width, height  int
	}{
		{0.9, 0, 1200, 900}, {0.25, 7, 2000, 1500}, {0.5, -38, 1200, 900}, {0.4, 90, 900, 1200}, {0.5, 7, 480, 360},
	} {
		photo := bench(3, c.width, c.height)
		lay(photo, l, c.share, c.degrees, image.Pt(c.width*45/100, c.height*55/100))
		texts, _ := Read(shot(t, photo, 10))
		if !slices.Equal(texts, []string{"T/00EKM5"}) {
			t.Errorf("%.0f %% of %d x %d, turned by %.0f: read %q", 100*c.share, c.width, c.height, c.degrees, texts)
		}
	}
}

// A maker's own code beside the label does not hide it.
func TestEveryCodeInAPhotoIsRead(t *testing.T) {
	photo := bench(4, 1600, 1200)
	lay(photo, label(t, "T/00EKM5", "00E-KM5"), 0.3, 3, image.Pt(450, 400))
	lay(photo, label(t, "HTTPS://MAKER.EXAMPLE/BX-900", "BX-900"), 0.3, -4, image.Pt(1150, 800))
	texts, unreadable := Read(shot(t, photo, 6))
	if !slices.Equal(texts, []string{"HTTPS://MAKER.EXAMPLE/BX-900", "T/00EKM5"}) || unreadable {
		t.Errorf("read %q, unreadable %v", texts, unreadable)
	}
}

func TestACodeThatCannotBeReadIsSaidToBeThere(t *testing.T) {
	photo := bench(5, 1600, 1200)
	l := label(t, "T/00EKM5", "00E-KM5")
	lay(photo, l, 0.9, 0, image.Pt(800, 600))
	// A thumb over the middle of the symbol, well away from its three finders.
	side := float64(l.Bounds().Dy()) * 0.9 * 1600 / float64(l.Bounds().Dx())
	top, left := 600-side/2, 800-0.45*1600
	thumb := image.Rect(int(left+0.42*side), int(top+0.42*side), int(left+0.9*side), int(top+0.9*side))
	draw.Draw(photo, thumb, image.NewUniform(color.RGBA{200, 150, 120, 255}), image.Point{}, draw.Src)
	if texts, unreadable := Read(photo); len(texts) > 0 || !unreadable {
		t.Errorf("read %q, unreadable %v", texts, unreadable)
	}
	for seed := range uint64(4) {
		if texts, unreadable := Read(shot(t, bench(seed, 1000, 750), 12)); len(texts) > 0 || unreadable {
			t.Errorf("an empty bench: read %q, unreadable %v", texts, unreadable)
		}
	}
	if texts, unreadable := Read(image.NewRGBA(image.Rect(0, 0, 1, 1))); len(texts) > 0 || unreadable {
		t.Errorf("one pixel: %q, %v", texts, unreadable)
	}
}
