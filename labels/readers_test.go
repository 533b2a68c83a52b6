package labels

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"pawl/model/needs"
)

// link is QR-02 of identity-labels-evidence 8.
const link = "HTTPS://SHOP.EXAMPLE/T/00EKM5"

// output runs an outside program and returns what it wrote to stdout.
func outputOf(t testing.TB, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(needs.Program(t, name), args...).Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// zbar reads every QR symbol of a picture by the first judge, zbarimg.
func zbar(t testing.TB, img image.Image) []string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "label.png")
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(needs.Program(t, "zbarimg"), "--raw", "-q", "-Sdisable", "-Sqrcode.enable", file).Output()
	if err != nil && len(out) > 0 {
		t.Fatalf("zbarimg: %v", err)
	}
	return strings.Fields(string(out)) // no payload here holds a blank
}

// zxing reads one QR symbol of a picture by the second judge, gozxing.
func zxing(img image.Image) (string, error) {
	return zxingHinted(img, gozxing.DecodeHintType_TRY_HARDER)
}

// zxingUpright reads a symbol that fills an upright picture, or nothing.
func zxingUpright(img image.Image) string {
	text, _ := zxingHinted(img, gozxing.DecodeHintType_PURE_BARCODE)
	return text
}

func zxingHinted(img image.Image, hint gozxing.DecodeHintType) (string, error) {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		return "", err
	}
	result, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{hint: true})
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

// unpack decodes a symbol's modules, without a picture, by gozxing.
func unpack(s *Symbol) (string, error) {
	result, err := decoder.NewDecoder().DecodeBoolMapWithoutHint(s.Modules)
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

// drawPNG returns what PNG writes, and that read as a picture.
func drawPNG(t testing.TB, text Text, opt PNGOptions) ([]byte, *image.Paletted) {
	t.Helper()
	var b bytes.Buffer
	if err := PNG(&b, text, opt); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), img.(*image.Paletted)
}

// turned returns a picture rotated about its middle, on white.
func turned(img image.Image, degrees float64) image.Image {
	size := img.Bounds().Size()
	side := int(math.Hypot(float64(size.X), float64(size.Y))) + 20
	dst := image.NewGray(image.Rect(0, 0, side, side))
	draw.Draw(dst, dst.Bounds(), image.White, image.Point{}, draw.Src)
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	cx, cy, mid := float64(size.X)/2, float64(size.Y)/2, float64(side)/2
	m := f64.Aff3{cos, -sin, mid - cos*cx + sin*cy, sin, cos, mid - sin*cx - cos*cy}
	draw.BiLinear.Transform(dst, m, img, img.Bounds(), draw.Over, nil)
	return dst
}

// picture draws modules as a picture with a quiet zone.
func picture(modules [][]bool, dots int) *image.Gray {
	side := (len(modules) + 2*quiet) * dots
	img := image.NewGray(image.Rect(0, 0, side, side))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	for y, row := range modules {
		for x, black := range row {
			if black {
				at := image.Rect(x+quiet, y+quiet, x+quiet+1, y+quiet+1)
				at = image.Rect(at.Min.X*dots, at.Min.Y*dots, at.Max.X*dots, at.Max.Y*dots)
				draw.Draw(img, at, image.NewUniform(color.Black), image.Point{}, draw.Src)
			}
		}
	}
	return img
}
