package model

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/x509"
	"errors"
	"io"
	"maps"
	"net/http"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/proofs"
	"pawl/model/register"
	"pawl/model/settings"
	"pawl/model/stamp"
	"pawl/model/stamp/tsatest"
)

// road leads outside, where there is one.
type road struct{ to http.RoundTripper }

func (r *road) RoundTrip(q *http.Request) (*http.Response, error) {
	if r.to == nil {
		return nil, errors.New("the line is down")
	}
	return r.to.RoundTrip(q)
}

// dated opens a shop that has an authority, and gives the way to it.
func dated(t *testing.T, g *garage) (*Shop, *tsatest.Authority, *road) {
	t.Helper()
	now := time.Now()
	a, way := tsatest.New(t, [2]time.Time{now.Add(-time.Hour), now.Add(time.Hour)}, x509.ExtKeyUsageTimeStamping), &road{}
	way.to = a.Client().Transport
	set, err := g.Settings(ctx)
	if err == nil {
		_, err = g.ChangeSettings(ctx, g.boss, set.Rev, settings.Change{TimeAuthority: ptr(a.URL), TimeAuthorityRoots: ptr(a.PEM(t))})
	}
	if err != nil {
		t.Fatal(err)
	}
	g.Outside = way
	return g.open(t), a, way
}

// A checkpoint is dated by the shop's authority, once; where that fails it is
// made all the same, and why is said. Chores date the daily one.
func TestDatedCheckpoint(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		plain, err := g.DatedCheckpoint(ctx, g.boss)
		if err != nil || plain.TimeStamp.Answer != nil || plain.TimeStamp.Why != "" {
			t.Errorf("without an authority: %+v, %v", plain, err)
		}
		s, a, way := dated(t, g)
		way.to = nil
		down, err := s.DatedCheckpoint(ctx, g.boss)
		if err != nil || down.Note == "" || down.TimeStamp.Answer != nil || !strings.Contains(down.TimeStamp.Why, "the line is down") {
			t.Errorf("with the authority down: %+v, %v", down, err)
		}
		way.to = a.Client().Transport
		first, err := s.DatedCheckpoint(ctx, g.boss)
		if err != nil || first.Note != down.Note || first.TimeStamp.Why != "" {
			t.Fatalf("%+v, %v", first, err)
		}
		if _, err := stamp.Check(first.TimeStamp.Answer, sha256.Sum256([]byte(first.Note)), a.Roots, time.Time{}); err != nil {
			t.Error(err)
		}
		way.to = nil
		again, err := s.DatedCheckpoint(ctx, g.boss)
		if err != nil || !bytes.Equal(again.TimeStamp.Answer, first.TimeStamp.Answer) || again.TimeStamp.At != first.TimeStamp.At {
			t.Errorf("asked again, with the authority down: %+v, %v", again.TimeStamp, err)
		}
		g.tool(t)
		g.clock.advance(25 * time.Hour)
		done, err := s.Chores(ctx, chores)
		if err != nil || !strings.Contains(strings.Join(done, "; "), "no time stamp from") {
			t.Errorf("chores with the authority down: %q, %v", done, err)
		}
		way.to = a.Client().Transport
		if done, err = s.Chores(ctx, chores); err != nil || strings.Join(done, "; ") != "had the checkpoint dated" {
			t.Errorf("chores: %q, %v", done, err)
		}
		if done, err = s.Chores(ctx, chores); err != nil || len(done) > 0 {
			t.Errorf("chores again: %q, %v", done, err)
		}
		for _, bad := range []settings.Change{{TimeAuthority: ptr("tsa.example")}, {TimeAuthorityRoots: ptr("no certificate")}, {TimeAuthorityRoots: ptr(strings.Repeat("x", 70_000))}} {
			set, err := s.Settings(ctx)
			if err != nil {
				t.Fatal(err)
			}
			_, err = s.ChangeSettings(ctx, g.boss, set.Rev, bad)
			if bad.TimeAuthority != nil {
				wantPointers(t, err, "#/time_authority")
			} else {
				wantPointers(t, err, "#/time_authority_roots")
			}
		}
	})
}

// first lets somebody else go first, once.
type first struct {
	http.RoundTripper
	other func()
}

func (f *first) RoundTrip(q *http.Request) (*http.Response, error) {
	if other := f.other; other != nil {
		f.other = nil
		other()
	}
	return f.RoundTripper.RoundTrip(q)
}

// Of two that have the same dated at once, both are given the answer that is kept.
func TestOneOfTwoStampsIsKept(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		s, _, way := dated(t, g)
		other := g.open(t)
		var theirs DatedCheckpoint
		way.to = &first{way.to, func() {
			var err error
			if theirs, err = other.DatedCheckpoint(ctx, g.boss); err != nil {
				t.Error(err)
			}
		}}
		ours, err := s.DatedCheckpoint(ctx, g.boss)
		if err != nil || ours.Note != theirs.Note || len(theirs.TimeStamp.Answer) == 0 {
			t.Fatalf("%+v %+v, %v", ours, theirs, err)
		}
		again, err := s.DatedCheckpoint(ctx, g.boss)
		if err != nil || !bytes.Equal(again.TimeStamp.Answer, theirs.TimeStamp.Answer) {
			t.Errorf("the second is kept, %v", err)
		}
		if !bytes.Equal(ours.TimeStamp.Answer, again.TimeStamp.Answer) || ours.TimeStamp.At != again.TimeStamp.At {
			t.Errorf("what was given is not what is kept: %v, %v", ours.TimeStamp.At, again.TimeStamp.At)
		}
	})
}

// packet makes the copy of a person's own tools: a drill with a photo, and a jack.
func packet(t *testing.T, g *garage, s *Shop) (zipped []byte, before CheckpointView) {
	t.Helper()
	n := g.tool(t, owned(g.techA), func(in *register.New) { in.Notes = ptr("3/8\" drive, C:\\drills\nsecond line, 5 °C, \",\"path\":[]") })
	if _, err := g.Attach(ctx, g.techA, n, attachOf("whole", g.upload(t, g.techA, picture(7)))); err != nil {
		t.Fatal(err)
	}
	g.tool(t, owned(g.techA))
	g.clock.advance(25 * time.Hour)
	if _, err := s.Chores(context.Background(), chores); err != nil {
		t.Fatal(err)
	}
	before, err := s.Checkpoint(ctx, g.boss)
	if err != nil {
		t.Fatal(err)
	}
	g.tool(t)
	copied, err := s.CopyOwn(ctx, g.techA, g.techA.Person)
	var out bytes.Buffer
	if err == nil {
		err = copied.Write(&out)
	}
	if err != nil {
		t.Fatal(err)
	}
	return out.Bytes(), before
}

func verifyBytes(zipped []byte, q PacketQuery) (Verified, error) {
	return VerifyPacket(bytes.NewReader(zipped), int64(len(zipped)), q)
}

// A packet says what it was compared with, to the letter, and who dated it; why
// there is no time stamp is said as well.
func TestVerifyPacket(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		bare, _ := packet(t, g, g.Shop)
		s, a, way := dated(t, g)
		zipped, before := packet(t, g, s)
		way.to = nil
		g.tool(t)
		without, _ := packet(t, g, s)
		itself := "Consistent with itself. Not compared with anything outside this packet. Key fingerprint " + before.Fingerprint + ": compare with the one you were given."
		for name, c := range map[string]struct {
			zipped []byte
			q      PacketQuery
			want   []string
			not    string
		}{
			"alone":          {zipped, PacketQuery{}, []string{itself, "of 4 tools every line up to then is here", "Time stamp by CN=Invented Authority: 20", "chain not checked"}, ""},
			"with all of it": {zipped, PacketQuery{before.Key, []string{before.Note}, a.PEM(t)}, []string{"Compared with the key that was given and with 1 of 1 checkpoints kept outside.", "its chain checked as of then"}, "Consistent with itself"},
			"unstamped":      {without, PacketQuery{}, []string{"No time stamp is in here: there is no proof/tagmanifest.tsr."}, "Time stamp by"},
			"no authority":   {bare, PacketQuery{}, []string{"No time stamp is in here: there is no proof/tagmanifest.tsr."}, "Time stamp by"},
		} {
			v, err := verifyBytes(c.zipped, c.q)
			said := strings.Join(v.Said, "\n")
			if err != nil || len(v.Problems) > 0 || c.not != "" && strings.Contains(said, c.not) {
				t.Errorf("%s: %q %q, %v", name, said, v.Problems, err)
			}
			for _, want := range c.want {
				if !strings.Contains(said, want) {
					t.Errorf("%s: %q; want %q", name, said, want)
				}
			}
		}
		other := tsatest.New(t, [2]time.Time{time.Now().Add(-time.Hour), time.Now().Add(time.Hour)}, x509.ExtKeyUsageTimeStamping)
		v, err := verifyBytes(zipped, PacketQuery{Roots: other.PEM(t)})
		if err != nil || len(v.Problems) != 1 || !strings.Contains(v.Problems[0], "proof/tagmanifest.tsr: the certificate of") || strings.Contains(strings.Join(v.Said, " "), "Consistent with itself") {
			t.Errorf("other roots: %+v, %v", v, err)
		}
		if _, err := verifyBytes(zipped, PacketQuery{Roots: "x"}); err == nil {
			t.Error("roots that are none are taken")
		}
		coreutils(t, zipped, a)
	})
}

// unzipped gives the files of a ZIP, and their names in their order.
func unzippedFiles(t testing.TB, zipped []byte) (map[string][]byte, []string) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
	return out, slices.Sorted(maps.Keys(out))
}

func zippedAgain(t testing.TB, files map[string][]byte) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(files[name])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// coreutils and openssl say the same of the packet: both manifests hold, the
// time stamp is of the tag manifest.
func coreutils(t *testing.T, zipped []byte, a *tsatest.Authority) {
	t.Helper()
	files, _ := unzippedFiles(t, zipped)
	base := unpacked(t, files)
	for _, command := range [][]string{{"sha256sum", "-c", "manifest-sha256.txt"}, {"sha256sum", "-c", "tagmanifest-sha256.txt"},
		{"openssl", "ts", "-verify", "-data", "tagmanifest-sha256.txt", "-in", "proof/tagmanifest.tsr", "-CAfile", filepath.Join(a.Dir, "root.pem")}} {
		if said, err := run(base, command...); err != nil {
			t.Errorf("%v: %v\n%s", command, err, said)
		}
	}
}

// One byte altered anywhere, a file added, taken away or put in another's place:
// all of it is found, and the file is named.
func TestAPacketThatSomebodyTouched(t *testing.T) {
	g := openGarage(t, "sqlite")
	s, _, _ := dated(t, g)
	zipped, before := packet(t, g, s)
	whole, names := unzippedFiles(t, zipped)
	q := PacketQuery{Key: before.Key, Against: []string{before.Note}}
	if v, err := verifyBytes(zippedAgain(t, whole), q); err != nil || len(v.Problems) > 0 {
		t.Fatalf("zipped again: %q, %v", v.Problems, err)
	}
	touched := func(what, named string, edit func(files map[string][]byte)) {
		t.Helper()
		files := maps.Clone(whole)
		edit(files)
		v, err := verifyBytes(zippedAgain(t, files), q)
		said := strings.Join(v.Problems, "\n")
		if err != nil {
			said = err.Error()
		}
		if _, short, _ := strings.Cut(named, "/"); said == "" || !strings.Contains(said, short) {
			t.Errorf("%s %s: %q", what, named, said)
		}
	}
	size := 0
	for _, name := range names {
		size += len(whole[name])
	}
	const positions = 500
	for i := range positions {
		at := i * (size - 1) / (positions - 1)
		for _, name := range names {
			if at -= len(whole[name]); at < 0 {
				at += len(whole[name])
				if strings.HasSuffix(name, ".tsr") {
					at = len(whole[name]) - 1 - i%32 // in its signature; of its certificates not every byte is signed
				}
				touched("a byte altered in", name, func(files map[string][]byte) {
					files[name] = slices.Clone(files[name])
					files[name][at] ^= 1
				})
				break
			}
		}
	}
	for i, name := range names {
		if !strings.HasSuffix(name, ".tsr") { // to go without is not to be false
			touched("without", name, func(files map[string][]byte) { delete(files, name) })
		}
		other := names[(i+1)%len(names)]
		touched("swapped with the next,", name, func(files map[string][]byte) { files[name], files[other] = files[other], files[name] })
		touched("emptied", name, func(files map[string][]byte) { files[name] = nil })
	}
	base, _, _ := strings.Cut(names[0], "/")
	for _, extra := range []string{"data/more.txt", "proof/more.txt", "proof/other.tsr", "more.txt", "data/originals/more.jpg"} {
		touched("added", base+"/"+extra, func(files map[string][]byte) { files[base+"/"+extra] = []byte("x") })
	}
	touched("beside the bag", "x/beside.txt", func(files map[string][]byte) { files["x/beside.txt"] = nil })
}

// run runs a program in a folder.
func run(dir string, command ...string) ([]byte, error) {
	c := exec.Command(command[0], command[1:]...)
	c.Dir = dir
	return c.CombinedOutput()
}

// An older checkpoint goes along with what dated it: its stamp is checked, and a
// stamp of another is found.
func TestAnOlderCheckpointIsDated(t *testing.T) {
	g := openGarage(t, "sqlite")
	s, a, _ := dated(t, g)
	g.tool(t)
	older, err := s.DatedCheckpoint(ctx, g.boss)
	if err != nil {
		t.Fatal(err)
	}
	then := dates.InstantOf(g.clock.Now())
	g.clock.advance(time.Hour)
	g.tool(t)
	own, err := s.Checkpoint(ctx, g.boss)
	if err != nil {
		t.Fatal(err)
	}
	src := proofs.Source{Note: own.Note, Key: own.Key, Lines: func(func(proofs.Entry) error) error { return nil }}
	err = s.db.Read(ctx, func(rx *store.Rx) (err error) {
		if src.Older, err = olderOf(rx, own.Size); err == nil {
			src.Anchor, err = anchorFor(rx, then, own.Size)
		}
		return err
	})
	if err != nil || src.Anchor == nil || src.Anchor.Note != older.Note || len(src.Anchor.Answer) == 0 {
		t.Fatalf("%+v, %v", src.Anchor, err)
	}
	v, err := verifyBytes(baggedBytes(t, src), PacketQuery{Roots: a.PEM(t)})
	said := strings.Join(v.Said, "\n")
	if err != nil || len(v.Problems) > 0 || !strings.Contains(said, "An older checkpoint is in it, of ") || !strings.Contains(said, "Time stamp on the older checkpoint by CN=Invented Authority: 20") {
		t.Errorf("%q %q, %v", said, v.Problems, err)
	}
	src.Anchor.Note = own.Note // signed as well, and not what was dated
	if v, err = verifyBytes(baggedBytes(t, src), PacketQuery{}); err != nil || len(v.Problems) != 1 || !strings.Contains(v.Problems[0], "proof/anchor.tsr: the time stamp is of other bytes") {
		t.Errorf("%q, %v", v.Problems, err)
	}
	src.Anchor.Note = strings.Replace(older.Note, "\n", "x\n", 1)
	if v, err = verifyBytes(baggedBytes(t, src), PacketQuery{}); err != nil || len(v.Problems) != 1 || !strings.Contains(v.Problems[0], "proof/anchor.txt") {
		t.Errorf("%q, %v", v.Problems, err)
	}
}
