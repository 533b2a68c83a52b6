package cli

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	xdraw "golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/f64"
	"golang.org/x/image/math/fixed"
)

// camera takes the photos of a walk along the drawers: one a second, each with the
// time in its Exif and grain all over it.
type camera struct {
	folder string
	at     time.Time
	taken  int
	grain  *rand.Rand
}

func newCamera(folder string) *camera {
	return &camera{folder: folder, at: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), grain: rand.New(rand.NewPCG(1, 2))}
}

// emptyBench is an empty photo.
func emptyBench() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	draw.Draw(img, img.Rect, image.NewUniform(color.RGBA{120, 110, 95, 255}), image.Point{}, draw.Src)
	return img
}

// label takes a photo of a printed label, turned by 7 degrees.
func (c *camera) label(file string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	label, err := png.Decode(f)
	if err != nil {
		return err
	}
	photo, size := emptyBench(), label.Bounds().Size()
	scale := 420 / float64(size.X)
	sin, cos := math.Sincos(7 * math.Pi / 180)
	sin, cos = sin*scale, cos*scale
	cx, cy := float64(size.X)/2, float64(size.Y)/2
	m := f64.Aff3{cos, -sin, 320 - cos*cx + sin*cy, sin, cos, 240 - sin*cx - cos*cy}
	xdraw.BiLinear.Transform(photo, m, label, label.Bounds(), draw.Over, nil)
	return c.take(photo)
}

// words takes a photo of words: a plate, or what stands for a tool.
func (c *camera) words(text string) error {
	photo := emptyBench()
	pen := font.Drawer{Dst: photo, Src: image.Black, Face: basicfont.Face7x13, Dot: fixed.P(200, 240)}
	pen.DrawString(text)
	return c.take(photo)
}

// take writes what is before the lens. File names do not tell the order.
func (c *camera) take(photo *image.RGBA) error {
	for i := range photo.Pix {
		if i%4 != 3 {
			photo.Pix[i] = uint8(min(max(int(photo.Pix[i])+c.grain.IntN(17)-8, 0), 255))
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, photo, nil); err != nil {
		return err
	}
	c.taken++
	c.at = c.at.Add(time.Second)
	name := fmt.Sprintf("IMG_%04d.JPG", 9000-c.taken)
	return os.WriteFile(filepath.Join(c.folder, name), stamped(b.Bytes(), c.at), 0o600)
}

// stamped puts DateTimeOriginal (CIPA DC-008: 0x9003, in the Exif directory that
// 0x8769 points at) into a JPEG, as little-endian TIFF.
func stamped(photo []byte, at time.Time) []byte {
	le := binary.LittleEndian
	tiff := []byte("II\x2a\x00\x08\x00\x00\x00")
	field := func(tag, kind uint16, count, value uint32) {
		tiff = le.AppendUint16(le.AppendUint16(tiff, tag), kind)
		tiff = le.AppendUint32(le.AppendUint32(tiff, count), value)
	}
	tiff = le.AppendUint16(tiff, 1)
	field(0x8769, 4, 1, 26)
	tiff = le.AppendUint32(tiff, 0)
	tiff = le.AppendUint16(tiff, 1)
	field(0x9003, 2, 20, 44)
	tiff = le.AppendUint32(tiff, 0)
	tiff = append(tiff, at.Format("2006:01:02 15:04:05")+"\x00"...)
	body := append([]byte("Exif\x00\x00"), tiff...)
	b := binary.BigEndian.AppendUint16([]byte{0xFF, 0xD8, 0xFF, 0xE1}, uint16(len(body)+2))
	return append(append(b, body...), photo[2:]...)
}

// walk photographs labels: each, then a tool and its plate.
func (c *camera) walk(labels ...string) error {
	for i, file := range labels {
		name := filepath.Base(file)
		if err := c.label(file); err != nil {
			return err
		}
		if err := c.words(fmt.Sprintf("tool %d of %s", i, name)); err != nil {
			return err
		}
		if err := c.words(fmt.Sprintf("SER. %d %s", i, name)); err != nil {
			return err
		}
	}
	return nil
}

// makeWalk is the script command mkwalk FOLDER WORD…: a label by its PNG, anything
// else a photo without one.
func makeWalk(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 2, 100)
	folder := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(folder, 0o700))
	c := newCamera(folder)
	for i, word := range args[1:] {
		if strings.HasSuffix(word, ".png") {
			ts.Check(c.label(ts.MkAbs(word)))
			continue
		}
		ts.Check(c.words(fmt.Sprintf("%d %s", i, word)))
	}
}

// pawl runs a command within this process and reads the JSON that it prints.
func pawl(t *testing.T, data string, into any, args ...string) {
	t.Helper()
	var out, errs bytes.Buffer
	if code := Run(append([]string{"pawl", "--data", data}, args...), strings.NewReader(""), &out, &errs); code != 0 {
		t.Fatalf("pawl %s: exit %d\n%s%s", strings.Join(args, " "), code, errs.String(), out.String())
	}
	if into == nil {
		return
	}
	if err := json.Unmarshal(out.Bytes(), into); err != nil {
		t.Fatalf("pawl %s: %v\n%s", strings.Join(args, " "), err, out.String())
	}
}

// walkedShop is a shop that gave out n numbers, and a folder of photos of a walk
// by their labels, three for each.
func walkedShop(t *testing.T, n int) (data, folder string, numbers []string) {
	t.Helper()
	data, top := filepath.Join(t.TempDir(), "shop"), t.TempDir()
	var sheet struct{ Numbers []string }
	pawl(t, data, &sheet, "labels", "--blank", fmt.Sprint(n), "--sheet", "a4-3x7", "-o", filepath.Join(top, "blank.pdf"), "--json")
	var printed []string
	for _, number := range sheet.Numbers {
		file := filepath.Join(top, number+".png")
		pawl(t, data, nil, "labels", number, "--format", "png", "--dpi", "300", "-o", file)
		printed = append(printed, file)
	}
	folder = filepath.Join(top, "DCIM")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := newCamera(folder).walk(printed...); err != nil {
		t.Fatal(err)
	}
	return data, folder, sheet.Numbers
}

// 200 tools from 600 photos in one command, with no typing; fewer where it must be
// quick.
func TestManyToolsFromOneFolderOfPhotos(t *testing.T) {
	n := map[string]int{"": 6, "ci": 20, "full": 200}[os.Getenv("PAWL_SIZE")]
	data, folder, numbers := walkedShop(t, n)
	var got imported
	pawl(t, data, &got, "import", "photos", folder, "--json")
	if got.Photos != 3*n || len(got.Tools) != n || len(got.Unsorted)+len(got.Refused)+len(got.LeftOut) != 0 {
		t.Fatalf("%d photos gave %d tools; unsorted %v, refused %v", got.Photos, len(got.Tools), got.Unsorted, got.Refused)
	}
	for i, tool := range got.Tools {
		if tool != (importedTool{Number: numbers[i], Started: true, Filed: 3}) {
			t.Errorf("tool %d: %+v, want %s", i, tool, numbers[i])
		}
	}
	var unfinished struct{ Tools []struct{ Number string } }
	pawl(t, data, &unfinished, "find", "--unfinished", "--json")
	if len(unfinished.Tools) != n {
		t.Errorf("%d tools are to be typed", len(unfinished.Tools))
	}
	var again imported
	pawl(t, data, &again, "import", "photos", folder, "--json")
	for _, tool := range again.Tools {
		if tool.Started || tool.Filed != 0 || tool.Already != 3 {
			t.Errorf("once more: %+v", tool)
		}
	}
	pawl(t, data, nil, "verify")
}

// An import that was killed half-way goes on where it stopped: what was filed
// stays, the rest is filed.
func TestAnImportOfPhotosGoesOnWhereItStopped(t *testing.T) {
	data, folder, numbers := walkedShop(t, 3)
	// The first act of the whole import is all that a killed one did: the first
	// group of the folder, which holds its first three shots.
	part := filepath.Join(t.TempDir(), "part")
	if err := os.Mkdir(part, 0o700); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		name := fmt.Sprintf("IMG_%04d.JPG", 9000-1-i)
		b, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(part, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pawl(t, data, nil, "import", "photos", part)
	var got imported
	pawl(t, data, &got, "import", "photos", folder, "--json")
	want := []importedTool{{numbers[0], false, 0, 3}, {numbers[1], true, 3, 0}, {numbers[2], true, 3, 0}}
	for i, tool := range got.Tools {
		if tool != want[i] {
			t.Errorf("went on with %+v, want %+v", tool, want[i])
		}
	}
	if len(got.Tools) != 3 {
		t.Errorf("%d tools", len(got.Tools))
	}
}
