package labels

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/makiuchi-d/gozxing/qrcode/detector"

	"pawl/model/fault"
	"pawl/model/needs"
)

// draws is how many labels of a sort are rubbed, by size.
func draws() int {
	switch os.Getenv("PAWL_SIZE") {
	case "full":
		return 200
	case "ci":
		return 40
	}
	return 16
}

// drawnNumber is a number in the alphabet of tool numbers.
func drawnNumber(chance *rand.Rand) string {
	const alphabet = "0123456789ABCDEFGHJKMNPRTVWXY"
	number := make([]byte, 6)
	for i := range number {
		number[i] = alphabet[chance.IntN(len(alphabet))]
	}
	return string(number)
}

// rub whitens a square of a tenth of the symbol's area, rounded up to whole
// pixels, somewhere off the finder patterns and their separators, which are
// eight modules wide. The symbol starts at x, y.
func rub(img *image.Gray, x, y, dots float64, modules int, chance *rand.Rand) {
	side, finder := dots*float64(modules), 8*dots
	patch := math.Ceil(math.Sqrt(0.10) * side)
	for {
		left, top := math.Floor(chance.Float64()*(side-patch)), math.Floor(chance.Float64()*(side-patch))
		if top < finder && (left < finder || left+patch > side-finder) || left < finder && top+patch > side-finder {
			continue
		}
		at := image.Rect(0, 0, int(patch), int(patch)).Add(image.Pt(int(math.Round(x+left)), int(math.Round(y+top))))
		for py := at.Min.Y; py < at.Max.Y; py++ {
			for px := at.Min.X; px < at.Max.X; px++ {
				img.Pix[img.PixOffset(px, py)] = 255
			}
		}
		return
	}
}

// grayOf copies a black and white picture.
func grayOf(img image.Image) *image.Gray {
	g := image.NewGray(img.Bounds())
	for y := range g.Rect.Max.Y {
		for x := range g.Rect.Max.X {
			g.Set(x, y, img.At(x, y))
		}
	}
	return g
}

// zxingByFinders reads a symbol of known size by gozxing from where it finds
// the three finder patterns. Left to itself that judge takes any speck for the
// alignment pattern when that is rubbed off, and samples askew.
func zxingByFinders(img image.Image, modules int) string {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		return ""
	}
	matrix, err := bitmap.GetBlackMatrix()
	if err != nil {
		return ""
	}
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
	at, err := detector.NewFinderPatternFinder(matrix, nil).Find(hints)
	if err != nil {
		return ""
	}
	plane := detector.Detector_createTransform(at.GetTopLeft(), at.GetTopRight(), at.GetBottomLeft(), nil, modules)
	bits, err := detector.Detector_sampleGrid(matrix, plane, modules)
	if err != nil {
		return ""
	}
	result, err := decoder.NewDecoder().Decode(bits, nil)
	if err != nil {
		return ""
	}
	return result.GetText()
}

// zbarReads counts the pictures from which zbarimg reads a text that is wanted,
// each text as often as it is wanted.
func zbarReads(t testing.TB, imgs []image.Image, want []string) (n int) {
	t.Helper()
	dir, args := t.TempDir(), []string{"--raw", "-q", "-Sdisable", "-Sqrcode.enable"}
	for i, img := range imgs {
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, fmt.Sprintf("%04d.png", i))
		if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, file)
	}
	wanted := map[string]int{}
	for _, text := range want {
		wanted[text]++
	}
	out, _ := exec.Command(needs.Program(t, "zbarimg"), args...).Output() // fails when one in many does not read
	for _, text := range strings.Fields(string(out)) {
		if wanted[text] > 0 {
			n++
			wanted[text]--
		}
	}
	return n
}

// nineInTen lets both judges read rubbed prints and wants nine in ten of each.
func nineInTen(t *testing.T, what string, imgs []image.Image, want []string, modules int) {
	t.Helper()
	read := 0
	for i, img := range imgs {
		if zxingByFinders(img, modules) == want[i] {
			read++
		}
	}
	for judge, n := range map[string]int{"gozxing": read, "zbarimg": zbarReads(t, imgs, want)} {
		t.Logf("%s: %s reads %d of %d", what, judge, n, len(imgs))
		need := 0.9 * float64(len(imgs))
		if len(imgs) < 200 { // a sample this small strays: two standard deviations of it are allowed
			need -= 2 * math.Sqrt(0.9*0.1*float64(len(imgs)))
		}
		if float64(n) < need {
			t.Errorf("%s: %s reads %d of %d with a tenth rubbed off", what, judge, n, len(imgs))
		}
	}
}

// payloads are those of tool labels: without an address, with a short one, and
// with one of a computer in the shop's network.
var payloads = []string{"T/", "HTTPS://SHOP.EXAMPLE/T/", "HTTP://192.168.1.20:8080/T/"}

// TestLabelsRubbed: with a square of a tenth of the symbol rubbed off, away from
// the finder patterns, at least nine in ten labels at 203 dpi still read,
// upright and turned by 7 degrees. A label is rubbed in patches, not module by
// module (common practice, no source).
func TestLabelsRubbed(t *testing.T) {
	for _, prefix := range payloads {
		chance := rand.New(rand.NewPCG(5, 7))
		var want []string
		var upright, askew []image.Image
		modules := 0
		for range draws() {
			text := wrench
			number := drawnNumber(chance)
			text.Symbol, text.Number = prefix+number, number[:3]+"-"+number[3:]
			_, drawn := drawPNG(t, text, PNGOptions{DPI: 203})
			const dots = 4
			modules = drawn.Bounds().Dy()/dots - 2*quiet
			img := grayOf(drawn)
			rub(img, quiet*dots, quiet*dots, dots, modules, chance)
			want, upright, askew = append(want, text.Symbol), append(upright, img), append(askew, turned(img, 7))
		}
		if modules < 17+4*leastVersion {
			t.Errorf("%s: %d modules along a side", prefix, modules)
		}
		nineInTen(t, prefix, upright, want, modules)
		nineInTen(t, prefix+" turned", askew, want, modules)
	}
}

// TestSheetsRubbed: the same of the labels of all sheets that take them, as a
// 300 dpi printer prints them.
func TestSheetsRubbed(t *testing.T) {
	for _, prefix := range payloads[:2] {
		var want []string
		var imgs []image.Image
		for i, s := range Sheets() {
			chance := rand.New(rand.NewPCG(11, uint64(i)))
			texts := some(min(s.cells(), 30*draws()/200+1))
			for i := range texts {
				texts[i].Symbol = prefix + drawnNumber(chance)
			}
			l, err := fit(texts[0], SheetOptions{Sheet: s})
			if s.Name == "letter-4x20" {
				if f := fault.Of(err); !fault.Is(err, fault.Invalid) || !strings.Contains(f.Hint, "a4-5x16") || strings.Contains(f.Hint, "level Q") != (prefix == "T/") {
					t.Errorf("%s: %v; want invalid, with a larger sheet", s.Name, err)
				}
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			page := render(t, drawPDF(t, texts, SheetOptions{Sheet: s}), 1)
			const dot = renderDPI / 25.4
			for i := range texts {
				x, y := s.corner(i)
				rub(page, (x+inset+l.x)*dot, (y+inset+l.y)*dot, l.module*dot, l.symbol.Side(), chance)
				imgs = append(imgs, cropped(page, image.Rect(int(x*dot), int(y*dot), int((x+s.W)*dot), int((y+s.H)*dot))))
				want = append(want, texts[i].Symbol)
			}
		}
		if len(imgs) < draws()*3/4 {
			t.Errorf("%d labels were rubbed, want %d", len(imgs), draws()*3/4)
		}
		nineInTen(t, "sheets of "+prefix, imgs, want, 17+4*leastVersion)
	}
}

// cropped is a part of a picture, its corner at 0, 0.
func cropped(img *image.Gray, area image.Rectangle) *image.Gray {
	part := image.NewGray(image.Rectangle{Max: area.Size()})
	for y := range area.Dy() {
		from := img.PixOffset(area.Min.X, area.Min.Y+y)
		copy(part.Pix[y*part.Stride:], img.Pix[from:from+area.Dx()])
	}
	return part
}

// TestCardsRubbed: the same of everything else with a symbol: badges, places and
// sign-out sheets, key tags, each with many codes, and the three cards whose
// symbols never change. A do-not-use tag has the symbol of the tool's label.
func TestCardsRubbed(t *testing.T) {
	for _, prefix := range []string{"B/00", "P/00", "JOB:", "CARD:TAKE", "CARD:RETURN", "CARD:UNDO"} {
		chance := rand.New(rand.NewPCG(17, 19))
		fixed := strings.HasPrefix(prefix, "CARD:")
		var want []string
		var upright, askew []image.Image
		modules := 0
		for range draws() {
			payload := prefix
			if !fixed {
				payload += drawnNumber(chance)
			}
			s, err := encodeStrong(payload, 0)
			if err != nil {
				t.Fatal(err)
			}
			modules = s.Side()
			const dots = 4
			img := picture(s.Modules, dots)
			rub(img, quiet*dots, quiet*dots, dots, modules, chance)
			want, upright, askew = append(want, payload), append(upright, img), append(askew, turned(img, 7))
		}
		nineInTen(t, prefix, upright, want, modules)
		nineInTen(t, prefix+" turned", askew, want, modules)
	}
}
