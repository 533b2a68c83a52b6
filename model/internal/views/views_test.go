package views

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
	"pgregory.net/rapid"

	"pawl/model/evidence"
	"pawl/model/fault"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// kept are originals in memory.
type kept struct {
	mu    sync.Mutex
	bytes map[string][]byte
}

func (k *kept) put(b []byte) string {
	sum := sha256.Sum256(b)
	sha := hex.EncodeToString(sum[:])
	k.mu.Lock()
	defer k.mu.Unlock()
	k.bytes[sha] = b
	return sha
}

func (k *kept) open(sha string) (io.ReadSeekCloser, int64, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	b, ok := k.bytes[sha]
	if !ok {
		return nil, 0, fault.New(fault.NotFound, "no original %s", sha)
	}
	return struct {
		io.ReadSeeker
		io.Closer
	}{bytes.NewReader(b), io.NopCloser(nil)}, int64(len(b)), nil
}

func newMaker(t testing.TB, converter string) (*Maker, *kept) {
	t.Helper()
	k := &kept{bytes: map[string][]byte{}}
	m, err := New(Config{Dir: filepath.Join(t.TempDir(), "views"), Originals: k.open, Converter: converter, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.Close)
	return m, k
}

func asJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// oriented puts an Exif orientation into a JPEG: one SHORT field with tag 0x0112 in
// the first directory of a big-endian TIFF (CIPA DC-008, 4.5 and 4.6.4).
func oriented(photo []byte, orientation uint16) []byte {
	tiff := []byte("MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01")
	tiff = append(binary.BigEndian.AppendUint16(tiff, orientation), 0, 0, 0, 0, 0, 0)
	body := append([]byte("Exif\x00\x00"), tiff...)
	b := binary.BigEndian.AppendUint16([]byte{0xFF, 0xD8, 0xFF, 0xE1}, uint16(len(body)+2))
	return append(append(b, body...), photo[2:]...)
}

// letters are the six fields ABC/DEF of check value EX-01, told apart by color.
var letters = map[byte]color.RGBA{
	'A': {255, 0, 0, 255}, 'B': {0, 255, 0, 255}, 'C': {0, 0, 255, 255},
	'D': {255, 255, 0, 255}, 'E': {255, 0, 255, 255}, 'F': {0, 255, 255, 255},
}

// fields draws ABC/DEF with fields of that side.
func fields(side int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 3*side, 2*side))
	for y := range 2 * side {
		for x := range 3 * side {
			img.SetRGBA(x, y, letters["ABCDEF"[y/side*3+x/side]])
		}
	}
	return img
}

// read tells fields again, row by row.
func read(img image.Image, columns, rows int) string {
	var lines []string
	size := img.Bounds().Size()
	for r := range rows {
		line := ""
		for c := range columns {
			got := color.RGBAModel.Convert(img.At((2*c+1)*size.X/(2*columns), (2*r+1)*size.Y/(2*rows))).(color.RGBA)
			name, nearest := byte('?'), 200
			for letter, want := range letters {
				far := abs(got.R, want.R) + abs(got.G, want.G) + abs(got.B, want.B)
				if far < nearest {
					name, nearest = letter, far
				}
			}
			line += string(name)
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "/")
}

func abs(a, b uint8) int { return max(int(a), int(b)) - min(int(a), int(b)) }

// EX-01: orientation 1 to 8 of ABC/DEF; Exif 2.2 (JEITA CP-3451), p. 18.
var ex01 = []struct {
	orientation   uint16
	shown         string
	columns, rows int
}{
	{1, "ABC/DEF", 3, 2}, {2, "CBA/FED", 3, 2}, {3, "FED/CBA", 3, 2}, {4, "DEF/ABC", 3, 2},
	{5, "AD/BE/CF", 2, 3}, {6, "DA/EB/FC", 2, 3}, {7, "FC/EB/DA", 2, 3}, {8, "CF/BE/AD", 2, 3},
	{0, "ABC/DEF", 3, 2}, {9, "ABC/DEF", 3, 2}, // reserved
}

func TestViewsAreUprightSmallAndWithoutMetadata(t *testing.T) {
	m, k := newMaker(t, "")
	for _, c := range ex01 {
		field, large := 110, 330 // a view is never larger than its original
		if c.orientation == 6 {
			field, large = 540, 1600
		}
		sha := k.put(oriented(asJPEG(t, fields(field)), c.orientation))
		for size, side := range map[Size]int{Small: 320, Large: large} {
			b, err := m.Open(t.Context(), sha, size)
			if err != nil {
				t.Fatalf("orientation %d, %s: %v", c.orientation, size, err)
			}
			img, err := jpeg.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatalf("orientation %d, %s: %v", c.orientation, size, err)
			}
			if got := img.Bounds().Size(); max(got.X, got.Y) != side || got.X*c.rows-got.Y*c.columns > 3 || got.Y*c.columns-got.X*c.rows > 3 {
				t.Errorf("orientation %d, %s: %v", c.orientation, size, got)
			}
			if got := read(img, c.columns, c.rows); got != c.shown {
				t.Errorf("orientation %d, %s: shown as %s, want %s", c.orientation, size, got, c.shown)
			}
			if bytes.Contains(b, []byte("Exif")) || bytes.Contains(b, []byte{0xFF, 0xE1}) {
				t.Errorf("orientation %d, %s: there is metadata", c.orientation, size)
			}
		}
	}
}

func TestAViewThatWasDeletedIsMadeAgain(t *testing.T) {
	m, k := newMaker(t, "")
	sha := k.put(asJPEG(t, fields(50)))
	first, err := m.Open(t.Context(), sha, Small)
	if err != nil {
		t.Fatal(err)
	}
	if img, err := jpeg.Decode(bytes.NewReader(first)); err != nil || img.Bounds().Dx() != 150 {
		t.Errorf("a small picture is enlarged: %v, %v", img.Bounds(), err)
	}
	if err := os.RemoveAll(m.Dir); err != nil {
		t.Fatal(err)
	}
	again, err := m.Open(t.Context(), sha, Small)
	if err != nil || !bytes.Equal(first, again) {
		t.Errorf("%d bytes, then %d, %v", len(first), len(again), err)
	}
	m.Forget(sha)
	if left := files(t, m.Dir); len(left) != 0 {
		t.Errorf("forgotten, and there are %q", left)
	}
}

func files(t testing.TB, dir string) (all []string) {
	t.Helper()
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err == nil && !info.IsDir() {
			all = append(all, filepath.Base(path))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestWhatHasNoViewIsSaidToHaveNone(t *testing.T) {
	m, k := newMaker(t, "")
	photo := asJPEG(t, fields(100))
	for what, c := range map[string]struct {
		file []byte
		why  string
	}{
		"PDF":          {[]byte("%PDF-1.4\n%%EOF\n"), "PDF"},
		"HEIC":         {heic, "no converter"},
		"cut short":    {photo[:len(photo)/2], "cannot be decoded"},
		"no picture":   {[]byte("hello"), "cannot be read"},
		"over 64 MP":   {header(9000, 8000), "over 64 megapixels"},
		"a bomb":       {header(100000, 100000), "cannot be read"}, // BOMB-01 of identity-labels-evidence 8
		"header alone": {header(4000, 3000), "cannot be decoded"},
	} {
		_, err := m.Open(t.Context(), k.put(c.file), Large)
		if !fault.Is(err, fault.NotFound) || !strings.Contains(err.Error(), c.why) {
			t.Errorf("%s: %v, want NotFound with %q", what, err, c.why)
		}
		q, known := m.Judge(t.Context(), k.put(c.file), mediaOf(t, c.file))
		if known {
			t.Errorf("%s is judged", what)
		}
		broken := c.why == "cannot be decoded" // as a picture of its sort could be
		if q.Broken != broken || m.Broken(k.put(c.file)) != broken {
			t.Errorf("%s is broken: %v", what, q.Broken)
		}
	}
	if _, err := m.Open(t.Context(), strings.Repeat("0", 64), Large); !fault.Is(err, fault.NotFound) {
		t.Errorf("one that is not kept: %v", err)
	}
}

// That a picture is broken is known after the next start too; it is forgotten with its
// original, and found out again by whoever asks for a view where the folder was deleted.
func TestABrokenPictureIsKnownAtTheNextStart(t *testing.T) {
	m, k := newMaker(t, "")
	photo := asJPEG(t, fields(100))
	sha := k.put(photo[:len(photo)/2])
	m.Judge(t.Context(), sha, mediaOf(t, k.bytes[sha]))
	again := func() *Maker {
		next, err := New(m.Config)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(next.Close)
		return next
	}
	if !m.Broken(sha) || !again().Broken(sha) {
		t.Error("it is forgotten at the next start")
	}
	if err := os.RemoveAll(m.Dir); err != nil {
		t.Fatal(err)
	}
	next := again()
	if _, err := next.Open(t.Context(), sha, Small); err == nil || !next.Broken(sha) {
		t.Errorf("its view was asked for: %v, broken %v", err, next.Broken(sha))
	}
	next.Forget(sha)
	if next.Broken(sha) || again().Broken(sha) {
		t.Error("its original is forgotten, and it is not")
	}
}

// header is a PNG that stops after its first chunk.
func header(width, height uint32) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 1, 1))); err != nil {
		panic(err)
	}
	head := b.Bytes()[:33]
	binary.BigEndian.PutUint32(head[16:], width)
	binary.BigEndian.PutUint32(head[20:], height)
	binary.BigEndian.PutUint32(head[29:], crc32.ChecksumIEEE(head[12:29]))
	return head
}

func mediaOf(t testing.TB, file []byte) evidence.Media {
	t.Helper()
	media, err := evidence.Inspect(bytes.NewReader(file), int64(len(file)), "", "")
	if err != nil {
		return evidence.Media{}
	}
	return media
}

// heic is SNIFF-01 of identity-labels-evidence 8: what a phone's picture begins with.
var heic = []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\x00\x0cmeta\x00\x00\x00\x00")

func TestAHEICIsShownByTheConverter(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "made.jpg"), oriented(asJPEG(t, fields(100)), 6), 0o600); err != nil {
		t.Fatal(err)
	}
	script := func(name, body string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte("#!/bin/sh\n"+body+"\n"), 0o700); err != nil {
			t.Fatal(err)
		}
		return path
	}
	// It gets the bytes of the original, and its arguments as they are: no shell
	// between has a look at them.
	good := script("good", `[ "$1" = '$HOME;x' ] && [ "$(head -c 12 "$2" | tail -c 8)" = ftypheic ] && cp `+dir+`/made.jpg "$3"`)
	m, k := newMaker(t, good+" $HOME;x {in} {out}")
	b, err := m.Open(t.Context(), k.put(heic), Large)
	if err != nil {
		t.Fatal(err)
	}
	img, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil || read(img, 3, 2) != "ABC/DEF" { // the converter has turned it
		t.Errorf("shown as %s, %v", read(img, 3, 2), err)
	}
	if !m.Converts() {
		t.Error("it does not say that it converts")
	}
	for what, command := range map[string]string{
		"one that fails":         script("bad", "exit 3") + " {in} {out}",
		"one that writes none":   script("none", "true") + " {in} {out}",
		"one that writes a HEIC": script("same", `cp "$1" "$2"`) + " {in} {out}",
		"one that is not there":  filepath.Join(dir, "absent") + " {in} {out}",
	} {
		m, k := newMaker(t, command)
		if _, err := m.Open(t.Context(), k.put(heic), Large); !fault.Is(err, fault.NotFound) || !strings.Contains(err.Error(), "converter") {
			t.Errorf("%s: %v", what, err)
		}
	}
	m, k = newMaker(t, script("slow", "exec tail -f /dev/null")+" {in} {out}")
	m.limit = 50 * time.Millisecond
	if _, err := m.Open(t.Context(), k.put(heic), Large); !fault.Is(err, fault.NotFound) || !strings.Contains(err.Error(), "took over") {
		t.Errorf("one that does not end: %v", err)
	}
	for _, command := range []string{"convert {in}", "convert in out", "{in} {out"} {
		if _, err := New(Config{Converter: command}); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "PAWL_HEIC_CONVERTER") {
			t.Errorf("%q: %v", command, err)
		}
	}
}

func TestAnUploadIsJudgedAndItsViewsAreMadeAfterwards(t *testing.T) {
	m, k := newMaker(t, "")
	board := image.NewGray(image.Rect(0, 0, 600, 500))
	for i := range board.Pix {
		board.Pix[i] = uint8(100 + 80*((i%600/4+i/600/4)%2))
	}
	sha := k.put(asJPEG(t, board))
	q, known := m.Judge(t.Context(), sha, mediaOf(t, k.bytes[sha]))
	if !known || q.Sharpness < evidence.MinSharpness || q.ShorterSide != 500 {
		t.Errorf("a checkerboard: %+v, %v", q, known)
	}
	flat := k.put(asJPEG(t, image.NewGray(image.Rect(0, 0, 600, 500))))
	if q, known := m.Judge(t.Context(), flat, mediaOf(t, k.bytes[flat])); !known || q.Sharpness > 1 {
		t.Errorf("a flat one: %+v, %v", q, known)
	}
	m.Close()
	if got := files(t, m.Dir); len(got) != 4 {
		t.Errorf("after closing there are %q", got)
	}
	if _, known := m.Judge(t.Context(), sha, evidence.Media{}); !known {
		t.Error("what was judged is forgotten")
	}
}

// 20 uploads of 12 megapixels at once: two are decoded, the others wait, and what
// is held stays far below what 20 would need.
func TestMemoryIsFlatUnderManyUploads(t *testing.T) {
	m, k := newMaker(t, "")
	uploads, size := 20, image.Rect(0, 0, 4000, 3000)
	if raced { // the detector makes decoding slow and memory large: then it is about the races alone
		uploads, size = 6, image.Rect(0, 0, 1700, 1000)
	}
	m.limit = time.Hour // the machine that runs tests may be slow
	big := image.NewYCbCr(size, image.YCbCrSubsampleRatio420)
	var shas []string
	var media evidence.Media
	one := asJPEG(t, big)
	for i := range uploads { // what follows the end of a JPEG is not looked at
		b := append(bytes.Clone(one), byte(i))
		shas, media = append(shas, k.put(b)), mediaOf(t, b)
	}
	big = nil
	runtime.GC()
	var before runtime.MemStats
	runtime.ReadMemStats(&before)
	var peak atomic.Uint64
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for tick := time.NewTicker(10 * time.Millisecond); ; {
			var now runtime.MemStats
			runtime.ReadMemStats(&now)
			peak.Store(max(peak.Load(), now.HeapAlloc))
			select {
			case <-stop:
				tick.Stop()
				return
			case <-tick.C:
			}
		}
	}()
	var all sync.WaitGroup
	for _, sha := range shas {
		all.Go(func() {
			if _, known := m.Judge(context.Background(), sha, media); !known {
				t.Error("one was not judged")
			}
		})
	}
	all.Wait()
	m.Close()
	close(stop)
	<-stopped
	// One decoded photo is 18 MB and its copy 8 MB: 20 of them 520 MB before any
	// garbage. Two, six copies and the garbage between collections fit in 200 MB.
	if grown := (int64(peak.Load()) - int64(before.HeapAlloc)) >> 20; grown > 200 && !raced {
		t.Errorf("the heap grew by %d MB", grown)
	} else {
		t.Logf("the heap grew by %d MB", grown)
	}
	if got := len(files(t, m.Dir)); got == 0 || got > 40 {
		t.Errorf("%d views were made", got)
	}
}

func TestTheGateLetsTwoThroughAndALargeOneAlone(t *testing.T) {
	g := newGate()
	var inside, most, large atomic.Int64
	var all sync.WaitGroup
	for i := range 60 {
		pixels := int64(1)
		if i%5 == 0 {
			pixels = largePixels + 1
		}
		all.Go(func() {
			leave, err := g.enter(context.Background(), pixels)
			if err != nil {
				t.Error(err)
				return
			}
			defer leave()
			n := inside.Add(1)
			for was := most.Load(); n > was && !most.CompareAndSwap(was, n); was = most.Load() {
			}
			if pixels > largePixels {
				large.Add(1)
				if n != 1 {
					t.Errorf("a large one is decoded beside %d others", n-1)
				}
			}
			runtime.Gosched()
			inside.Add(-1)
		})
	}
	all.Wait()
	if most.Load() > 2 || large.Load() != 12 {
		t.Errorf("%d at once, %d large ones", most.Load(), large.Load())
	}
	leave, err := g.enter(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := g.enter(gone, largePixels+1); !fault.Is(err, fault.Unavailable) {
		t.Errorf("nobody waits, and it is %v", err)
	}
	leave()
	if leave, err = g.enter(t.Context(), largePixels+1); err != nil { // nothing was left taken
		t.Fatal(err)
	}
	leave()
}

// Each pixel is the mean of its area, in exact fractions: the oracle adds up
// overlaps in floating point, without rows or parts.
func TestAShrunkPictureIsTheMeanOfItsAreas(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w, h := rapid.IntRange(1, 17).Draw(rt, "w"), rapid.IntRange(1, 17).Draw(rt, "h")
		side := rapid.IntRange(1, 17).Draw(rt, "side")
		src := image.NewGray(image.Rect(3, 5, 3+w, 5+h))
		copy(src.Pix, rapid.SliceOfN(rapid.Byte(), w*h, w*h).Draw(rt, "pix"))
		got := shrink(src, side)
		size := got.Rect.Size()
		if max(size.X, size.Y) > side && max(w, h) > side || max(w, h) <= side && size != image.Pt(w, h) || size.X < 1 || size.Y < 1 {
			rt.Fatalf("%d x %d to %d: %v", w, h, side, size)
		}
		for y := range size.Y {
			for x := range size.X {
				sum := 0.0
				for sy := range h {
					for sx := range w {
						sum += float64(src.Pix[sy*w+sx]) * overlap(sx, w, x, size.X) * overlap(sy, h, y, size.Y)
					}
				}
				if c := got.RGBAAt(x, y); float64(c.R)-sum > 0.5001 || sum-float64(c.R) > 0.5001 || c.R != c.G || c.G != c.B || c.A != 255 {
					rt.Fatalf("at %d, %d: %v, want %.3f", x, y, c, sum)
				}
			}
		}
	})
}

// overlap is how much of target i of m lies over source s of n, as a share of the
// target.
func overlap(s, n, i, m int) float64 {
	ratio := float64(n) / float64(m)
	from, to := max(float64(s), float64(i)*ratio), min(float64(s+1), float64(i+1)*ratio)
	return max(0, to-from) / ratio
}

func TestTransparencyIsWhite(t *testing.T) {
	clear := image.NewNRGBA(image.Rect(0, 0, 400, 400))
	if c := shrink(clear, 100).RGBAAt(50, 50); c != (color.RGBA{255, 255, 255, 255}) {
		t.Errorf("a clear picture is %v", c)
	}
}

func ExampleParseSize() {
	_, err := ParseSize("huge")
	fmt.Println(err)
	// Output: "huge" is not a size of view (use small or large)
}
