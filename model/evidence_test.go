package model

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/register"
)

// From the upload to the tool and back: the same bytes, for whoever may see them.
func TestUploadAttachOpen(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		data := picture(1)
		sha := hashOf(data)
		for i, created := range []bool{true, false} { // repeatable after a dead spot
			o, made, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: sha, Name: "plate.png", MediaType: "image/png", Size: int64(len(data))}, bytes.NewReader(data))
			if err != nil || made != created || o.Bytes != int64(len(data)) || o.Type != "image/png" || o.Width != 64 || o.Height != 48 {
				t.Fatalf("upload %d: %+v, created %v, %v", i, o, made, err)
			}
		}
		lines := g.lines(t)
		n := g.tool(t)
		if g.lines(t) != lines+2 {
			t.Error("an upload left a line")
		}
		done, err := g.Attach(ctx, g.techA, n, []register.Attach{{Kind: "plate", SHA256: sha, Name: "a\x00b\n.png"}, {Kind: "whole", SHA256: sha}})
		if err != nil || done.Verb != "evidence add" {
			t.Fatal(done, err)
		}
		v, err := g.Tool(ctx, g.techB, n)
		if err != nil || len(v.Evidence) != 2 || v.Evidence[0].ReceivedAt.Time() != g.clock.Now() || v.Evidence[0].UploadedBy != g.techA.Person {
			t.Fatalf("%+v, %v", v.Evidence, err)
		}
		for _, e := range v.Evidence {
			if e.Kind == evidence.Plate && e.Name != "ab.png" {
				t.Errorf("file name %q, want it as harmless data", e.Name)
			}
		}
		f, o, err := g.OpenOriginal(ctx, g.techB, sha) // a photo of the tool itself
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if got, err := io.ReadAll(f); err != nil || !bytes.Equal(got, data) || o.Bytes != int64(len(data)) {
			t.Errorf("%d bytes, %+v, %v", len(got), o, err)
		}
	})
}

// What is refused is not kept: no bytes, no note of them, no leftover.
func TestARefusedUploadIsNotKept(t *testing.T) {
	png := picture(1)
	cases := []struct {
		name, file, media string
		data              []byte
		kind              fault.Kind
	}{
		{"a lying type", "", "application/pdf", png, fault.Media},
		{"a lying name", "plate.pdf", "", png, fault.Media},
		{"SVG", "plate.svg", "image/svg+xml", []byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`), fault.Media},
		{"HTML", "plate.png", "image/png", []byte("<!DOCTYPE html><html><body>hello</body></html>"), fault.Media},
		{"a page before a picture", "", "", append([]byte("<html>"), png...), fault.Media},
		{"plain text", "", "", []byte("SN KD408B217"), fault.Media},
		{"a script", "", "", []byte("#!/bin/sh\nrm -rf /\n"), fault.Media},
		{"nothing", "", "", nil, fault.Invalid},
		{"a picture cut short", "", "", png[:20], fault.Invalid},
		{"a bomb of 900 megapixels", "", "", bomb(30_000, 30_000), fault.Invalid},
		{"a side over 65,535", "", "", bomb(65_536, 1), fault.Invalid},
	}
	onBoth(t, func(t *testing.T, g *garage) {
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: hashOf(c.data), Name: c.file, MediaType: c.media, Size: int64(len(c.data))}, bytes.NewReader(c.data))
				if !fault.Is(err, c.kind) && !(c.name == "nothing" && fault.Is(err, fault.Media)) {
					t.Errorf("%v, want %s", err, c.kind)
				}
				g.wantKept(t)
			})
		}
		t.Run("other bytes than announced", func(t *testing.T) {
			_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: hashOf([]byte("x")), Size: -1}, bytes.NewReader(png))
			wantFault(t, err, fault.Invalid, "its bytes hash to")
			g.wantKept(t)
		})
		t.Run("a name that is no hash", func(t *testing.T) {
			for _, sha := range []string{"", "../../../../etc/passwd", strings.Repeat("A", 64), strings.Repeat("a", 63) + "\x00"} {
				_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: sha, Size: -1}, bytes.NewReader(png))
				wantFault(t, err, fault.Invalid, "not a SHA-256")
			}
			g.wantKept(t)
		})
		t.Run("the line went dead", func(t *testing.T) {
			dead := errors.New("connection reset")
			_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: hashOf(png), Size: int64(len(png))}, io.MultiReader(bytes.NewReader(png[:30]), failing{dead}))
			wantFault(t, err, fault.Unavailable, "broke off")
			going, cancel := context.WithCancel(ctx)
			cancel()
			_, _, err = g.StoreOriginal(going, g.techA, Upload{SHA256: hashOf(png), Size: int64(len(png))}, bytes.NewReader(png))
			wantFault(t, err, fault.Unavailable, "")
			g.wantKept(t)
		})
		t.Run("one that is kept stays when it is sent again under a lie", func(t *testing.T) {
			sha := g.upload(t, g.techA, png)
			_, _, err := g.StoreOriginal(ctx, g.techB, Upload{SHA256: sha, MediaType: "application/pdf", Size: int64(len(png))}, bytes.NewReader(png))
			wantFault(t, err, fault.Media, "")
			g.wantKept(t, sha)
		})
	})
}

type failing struct{ error }

func (f failing) Read([]byte) (int, error) { return 0, f.error }

// bomb is a PNG that says it is that large, in 33 bytes (PNG, second edition, 11.2.2).
func bomb(width, height uint32) []byte {
	b := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR")
	b = binary.BigEndian.AppendUint32(b, width)
	b = binary.BigEndian.AppendUint32(b, height)
	b = append(b, 8, 0, 0, 0, 0)
	b = binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[12:]))
	b = append(b, "\x00\x00\x00\x00IDAT\x35\xaf\x06\x1e"...)
	return append(b, "\x00\x00\x00\x00IEND\xae\x42\x60\x82"...)
}

// wantKept holds the folder of originals to have those files and no others.
func (g *garage) wantKept(t *testing.T, want ...string) {
	t.Helper()
	var got []string
	err := filepath.WalkDir(filepath.Join(g.Dir, "originals"), func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			got = append(got, filepath.Base(filepath.Dir(path))+filepath.Base(path))
		}
		return err
	})
	if err != nil || fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("kept %v, %v; want %v", got, err, want)
	}
	for _, sha := range want {
		if err := g.originals.Check(sha); err != nil {
			t.Error(err)
		}
	}
}

// An upload that is too large is refused as soon as that is known, and is never
// held in memory.
func TestAnUploadOverTheLimit(t *testing.T) {
	g := openGarage(t, "sqlite")
	_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: hashOf(nil), Size: evidence.MaxBytes + 1}, failing{errors.New("it was read")})
	wantFault(t, err, fault.TooLarge, fmt.Sprint(evidence.MaxBytes))
	long := &endless{}
	before := heap()
	_, _, err = g.StoreOriginal(ctx, g.techA, Upload{SHA256: hashOf(nil), Size: -1}, long)
	wantFault(t, err, fault.TooLarge, fmt.Sprint(evidence.MaxBytes))
	if grown := int64(long.most) - int64(before); long.given < evidence.MaxBytes || grown > 4<<20 {
		t.Errorf("after %d bytes the heap had grown by %d; it should stay flat", long.given, grown)
	}
	g.wantKept(t)
}

// endless gives zeros, and looks at the live heap at every mebibyte.
type endless struct {
	given int64
	most  uint64
}

func (e *endless) Read(p []byte) (int, error) {
	if e.given>>20 != (e.given+int64(len(p)))>>20 {
		e.most = max(e.most, heap())
	}
	clear(p)
	e.given += int64(len(p))
	return len(p), nil
}

func heap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// Only what one uploaded, or may already see, can be attached; of all else there
// is no such thing.
func TestWhoMayAttachWhat(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		receipt, plate := g.upload(t, g.techA, picture(1)), g.upload(t, g.techA, picture(2))
		own, shops := g.tool(t, owned(g.techA)), g.tool(t)
		attach := func(by By, n, kind, sha string) error {
			_, err := g.Attach(ctx, by, n, []register.Attach{{Kind: kind, SHA256: sha}})
			return err
		}
		wantFault(t, attach(g.techB, shops, "plate", plate), fault.NotFound, "no upload") // not yours
		if err := attach(g.techA, own, "receipt", receipt); err != nil {
			t.Fatal(err)
		}
		if err := attach(g.techA, own, "plate", plate); err != nil {
			t.Fatal(err)
		}
		wantFault(t, attach(g.techB, shops, "receipt", receipt), fault.NotFound, "no upload") // a receipt that B may not see
		if err := attach(g.techB, shops, "plate", plate); err != nil {
			t.Errorf("a photo that B may see: %v", err)
		}
		if err := attach(g.techA, shops, "receipt", receipt); err != nil {
			t.Errorf("one receipt serves two tools: %v", err)
		}
		wantFault(t, attach(g.techB, own, "plate", plate), fault.Forbidden, "may not")
		wantFault(t, attach(By{Actor: Actor{Role: people.Viewer, Via: people.ViaToken}}, shops, "plate", plate), fault.Forbidden, "may not")
		wantPointers(t, attach(g.techA, own, "selfie", plate), "#/evidence")
		_, err := g.Attach(ctx, g.techA, own, nil)
		wantPointers(t, err, "#/evidence")
		_, _, err = g.OpenOriginal(ctx, g.techB, hashOf([]byte("nothing")))
		wantFault(t, err, fault.NotFound, "no original")
	})
}

// Bytes that nothing names are swept after 24 hours; what is named, or was sent
// again meanwhile, stays. The files are as old as the shop's clock says.
func TestSweep(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		orphan, named, renewed := g.upload(t, g.techA, picture(1)), g.upload(t, g.techA, picture(2)), g.upload(t, g.techA, picture(3))
		if _, err := g.Attach(ctx, g.techA, g.tool(t), []register.Attach{{Kind: "plate", SHA256: named}}); err != nil {
			t.Fatal(err)
		}
		age := func(sha string) {
			at := g.clock.Now()
			if err := os.Chtimes(filepath.Join(g.Dir, "originals", sha[:2], sha[2:]), at, at); err != nil {
				t.Fatal(err)
			}
		}
		for _, sha := range []string{orphan, named, renewed} {
			age(sha)
		}
		chores := func() string {
			done, err := g.Chores(ctx, By{Actor: Actor{Via: people.ViaChores}})
			if err != nil {
				t.Fatal(err)
			}
			return strings.Join(done, "; ")
		}
		g.clock.advance(20 * time.Hour)
		g.upload(t, g.techB, picture(3)) // by somebody else, and the file keeps its age
		g.clock.advance(4 * time.Hour)   // the first uploads are 24 hours old, not more
		chores()
		g.wantKeptInAnyOrder(t, orphan, named, renewed)
		g.clock.advance(time.Second)
		if said := chores(); !strings.Contains(said, "3 uploads that no act named") || !strings.Contains(said, "removed 1 originals") {
			t.Errorf("chores said %q", said)
		}
		g.wantKeptInAnyOrder(t, named, renewed)
		_, err := g.Attach(ctx, g.techA, g.tool(t), []register.Attach{{Kind: "plate", SHA256: orphan}})
		wantFault(t, err, fault.NotFound, "removed after a day")
		if _, err := g.Attach(ctx, g.techB, g.tool(t), []register.Attach{{Kind: "plate", SHA256: renewed}}); err != nil {
			t.Error(err)
		}
		g.clock.advance(48 * time.Hour)
		chores()
		g.wantKeptInAnyOrder(t, named, renewed)
	})
}

func (g *garage) wantKeptInAnyOrder(t *testing.T, want ...string) {
	t.Helper()
	kept := map[string]bool{}
	if err := g.originals.Walk(func(sha string, _ int64, _ time.Time) error { kept[sha] = true; return nil }); err != nil {
		t.Fatal(err)
	}
	for _, sha := range want {
		if !kept[sha] {
			t.Errorf("%s was swept", short(sha))
		}
	}
	if len(kept) != len(want) {
		t.Errorf("%d originals kept, want %d", len(kept), len(want))
	}
}

// Uploads, lies about the same bytes, attaching and sweeping, all at once: an
// upload that was accepted can be attached, and no record is ever without its
// bytes (the verification at the end reads them all).
func TestSweepAgainstUploads(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		rounds := pawlSize(6, 15, 150)
		n := g.tool(t)
		var all sync.WaitGroup
		for who, by := range []By{g.techA, g.techB, g.manager} {
			all.Go(func() {
				for i := range rounds {
					data := picture(byte(i)) // the same for all three
					sha := hashOf(data)
					up := Upload{SHA256: sha, Size: int64(len(data))}
					if who == 2 {
						up.MediaType = "application/pdf"
					}
					_, _, err := g.StoreOriginal(ctx, by, up, bytes.NewReader(data))
					switch {
					case who == 2 && !fault.Is(err, fault.Media) && !fault.Is(err, fault.NotFound) && !fault.Is(err, fault.Unavailable):
						t.Errorf("a lie about round %d: %v", i, err)
					case who == 2, fault.Is(err, fault.Unavailable), fault.Is(err, fault.NotFound):
						continue // swept while it came in: to be sent again
					case err != nil:
						t.Errorf("round %d: %v", i, err)
						continue
					}
					if _, err := g.Attach(ctx, by, n, []register.Attach{{Kind: "other", SHA256: sha}}); err != nil {
						t.Errorf("round %d was accepted, but cannot be attached: %v", i, err)
					}
				}
			})
		}
		sweeper := By{Actor: Actor{Via: people.ViaChores}}
		all.Go(func() {
			for range 2 * rounds {
				err := g.originals.Walk(func(sha string, _ int64, _ time.Time) error {
					_, err := g.removeUnwanted(ctx, sweeper, sha)
					return err
				})
				if err != nil && !fault.Is(err, fault.NotFound) {
					t.Errorf("sweep: %v", err)
				}
			}
		})
		all.Wait()
	})
}

// Bytes that are there, and are swept while they are sent again, are not taken for kept:
// whoever sends them is told to do so once more, and then they are.
func TestSweptWhileTheyCome(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		data, sweeper := picture(1), By{Actor: Actor{Via: people.ViaChores}}
		sha := hashOf(data)
		put := func() {
			_, _, err := g.originals.Put(ctx, sha, bytes.NewReader(data), int64(len(data)))
			must(t, err)
		}
		send := func(meanwhile func()) error {
			_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: sha, Size: int64(len(data))}, io.MultiReader(bytes.NewReader(data), atEnd(meanwhile)))
			return err
		}
		sweep := func() {
			gone, err := g.removeUnwanted(ctx, sweeper, sha)
			if err != nil || !gone {
				t.Errorf("swept %v, %v", gone, err)
			}
		}
		put() // nothing names it
		err := send(sweep)
		if !fault.Is(err, fault.Unavailable) && !fault.Is(err, fault.NotFound) {
			t.Errorf("swept while they came: %v", err)
		}
		err = send(func() { sweep(); put() }) // they are there again, and may be swept again
		wantFault(t, err, fault.Unavailable, "were removed while they came in")
		must(t, send(func() {}))
		if gone, err := g.removeUnwanted(ctx, sweeper, sha); gone || err != nil {
			t.Errorf("what was sent is swept: %v, %v", gone, err)
		}
	})
}

// A sweeper that died before it was done keeps nobody out for more than a quarter of an
// hour, and while one is at it no other begins.
func TestASweeperThatDied(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		sha := hashOf(picture(1))
		begin := func() (begun bool) {
			_, err := store.Write(ctx, g.db, store.Act{Verb: "remove orphan"}, func(tx *store.Tx) (_ bool, err error) {
				begun, err = tx.BeginRemoval(sha)
				return begun, err
			})
			must(t, err)
			return begun
		}
		send := func() error {
			_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: sha, Size: -1}, bytes.NewReader(picture(1)))
			return err
		}
		if !begin() || begin() {
			t.Error("two sweepers are at the same bytes")
		}
		wantFault(t, send(), fault.Unavailable, "being removed at this moment")
		g.clock.advance(15 * time.Minute)
		must(t, send())
		if !begin() {
			t.Error("it is taken to be under way still")
		}
	})
}

// atEnd does something when it is read from, and has nothing to give.
type atEnd func()

func (f atEnd) Read([]byte) (int, error) {
	f()
	return 0, io.EOF
}

// Two send the same bytes at once, one of them under a lie: the refusal of the
// lie does not take away what the other sent rightly.
func TestALieAboutBytesThatAnotherSent(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		data, n := picture(1), g.tool(t)
		sha := hashOf(data)
		path := filepath.Join(g.Dir, "originals", sha[:2], sha[2:])
		holds, refused := make(chan bool), make(chan error)
		go func() {
			<-holds
			_, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: sha, MediaType: "application/pdf", Size: int64(len(data))}, bytes.NewReader(data))
			refused <- err
		}()
		// Tech B's upload is being noted, when A's bytes come to be there.
		_, err := store.Write(ctx, g.db, store.Act{Verb: "upload", Actor: "test"}, func(tx *store.Tx) (bool, error) {
			if err := tx.Lock("originals"); err != nil {
				return false, err
			}
			holds <- true
			for _, err := os.Stat(path); err != nil; _, err = os.Stat(path) {
				runtime.Gosched()
			}
			return true, tx.KeepUpload(store.Upload{SHA256: sha, Who: g.techB.Recorded(), Made: tx.Now(), Bytes: int64(len(data)), MediaType: "image/png"})
		})
		if err != nil {
			t.Fatal(err)
		}
		wantFault(t, <-refused, fault.Media, "")
		g.wantKept(t, sha)
		if _, err := g.Attach(ctx, g.techB, n, attachOf("plate", sha)); err != nil {
			t.Error(err)
		}
	})
}

// located is a picture whose Exif says 36°30'N, 121°45'W: an eXIf chunk (PNG third
// edition, 11.3.4.5) with a directory for GPS (CIPA DC-008, 4.6.6).
func located(seed byte) []byte {
	order, gps := binary.BigEndian, 8+2+12+4
	b := order.AppendUint32([]byte("MM\x00\x2a"), 8)
	entry := func(tag, kind uint16, count, value uint32) {
		b = order.AppendUint32(order.AppendUint32(order.AppendUint16(order.AppendUint16(b, tag), kind), count), value)
	}
	b = order.AppendUint16(b, 1)
	entry(0x8825, 4, 1, uint32(gps))
	b = order.AppendUint16(order.AppendUint32(b, 0), 4)
	degrees := gps + 2 + 4*12 + 4
	entry(1, 2, 2, 'N'<<24)
	entry(2, 5, 3, uint32(degrees))
	entry(3, 2, 2, 'W'<<24)
	entry(4, 5, 3, uint32(degrees+24))
	b = order.AppendUint32(b, 0)
	for _, n := range []uint32{36, 1, 30, 1, 0, 1, 121, 1, 45, 1, 0, 1} {
		b = order.AppendUint32(b, n)
	}
	chunk := append(order.AppendUint32(nil, uint32(len(b))), append([]byte("eXIf"), b...)...)
	chunk = order.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	photo := picture(seed)
	return append(append(bytes.Clone(photo[:33]), chunk...), photo[33:]...)
}

// Where a photo says that it was taken is kept, and told to the owner and to whoever
// added it: it may be where the owner lives.
func TestClaimedPlace(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		data := located(9)
		sha := hashOf(data)
		if o, _, err := g.StoreOriginal(ctx, g.techA, Upload{SHA256: sha, Name: "tool.png", MediaType: "image/png", Size: int64(len(data))}, bytes.NewReader(data)); err != nil || o.Place != "36.50000,-121.75000" {
			t.Fatalf("%+v, %v", o, err)
		}
		kind, owner := "ratchet", "Tech A"
		own, err := g.Register(ctx, g.techA, register.New{Change: register.Change{Kind: &kind, Owner: &owner}})
		if err != nil {
			t.Fatal(err)
		}
		n := own.Number.String()
		if _, err := g.Attach(ctx, g.techA, n, []register.Attach{{Kind: "whole", SHA256: sha}}); err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			who  By
			want string
		}{{g.techA, "36.50000,-121.75000"}, {g.techB, ""}, {g.manager, ""}} {
			v, err := g.Tool(ctx, c.who, n)
			if err != nil || len(v.Evidence) != 1 || v.Evidence[0].ClaimedPlace != c.want {
				t.Errorf("%s is shown %+v, want the place %q", c.who.Person, v.Evidence, c.want)
			}
			told := false
			lines, _, err := g.History(ctx, c.who, n, 0, "")
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range lines {
				_, has := l.After["claimed_place"]
				told = told || has
			}
			if told != (c.want != "") {
				t.Errorf("the history tells %s of the place: %v", c.who.Person, told)
			}
		}
	})
}

// A plate photo that breaks off is kept and asked about at once, and counts nowhere as
// one that shows the serial, until a whole one is sent.
func TestABrokenPhotoShowsNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, func(in *register.New) { in.Serial, in.SerialAgain = ptr("KD408B217"), "KD408B217" })
		whole := picture(90)
		broken := whole[:len(whole)*2/3]
		o, _, err := g.StoreOriginal(ctx, g.boss, Upload{SHA256: hashOf(broken), Size: int64(len(broken))}, bytes.NewReader(broken))
		if err != nil || o.Sharpness != nil || !strings.Contains(o.Question, "breaks off") {
			t.Fatalf("the upload: %+v, %v", o, err)
		}
		done, err := g.Attach(ctx, g.boss, n, attachOf("plate", o.SHA256))
		if err != nil || !strings.Contains(done.Question, "take or send it again") {
			t.Fatalf("the act: %q, %v", done.Question, err)
		}
		const wanted, advised = "photo of the serial plate that can be shown", "No photo of the serial plate"
		lacks := func() (gap, advice bool) {
			t.Helper()
			gaps, err := g.Gaps(ctx, g.boss, GapsQuery{})
			if err != nil {
				t.Fatal(err)
			}
			v, err := g.Tool(ctx, g.boss, n)
			if err != nil {
				t.Fatal(err)
			}
			return gaps.Missing[wanted] == 1, strings.Contains(strings.Join(v.Advice, "\n"), advised)
		}
		if gap, advice := lacks(); !gap || !advice {
			t.Errorf("with a broken photo of its plate: gap %v, advice %v", gap, advice)
		}
		f, _, err := g.OpenOriginal(ctx, g.boss, o.SHA256)
		if err != nil {
			t.Fatalf("it is not kept: %v", err)
		}
		f.Close()
		if _, err := g.Attach(ctx, g.boss, n, attachOf("plate", g.upload(t, g.boss, whole))); err != nil {
			t.Fatal(err)
		}
		if gap, advice := lacks(); gap || advice {
			t.Errorf("with a whole photo of its plate: gap %v, advice %v", gap, advice)
		}
	})
}
