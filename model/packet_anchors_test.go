package model

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"io"
	"maps"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/needs"
)

// The hand-over sheet names the checkpoint from before the loss and who dated it, as the
// annex holds them; without any it says that there is none.
func TestTheHandOverSheetNamesItsAnchors(t *testing.T) {
	program := needs.Program(t, "pdftotext")
	onBoth(t, func(t *testing.T, g *garage) {
		said := func(v PacketView) string {
			sheet := filepath.Join(t.TempDir(), "sheet.pdf")
			write(t, sheet, g.whole(t, v)[handOverFile])
			text, err := exec.Command(program, "-raw", sheet, "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			return strings.Join(strings.Fields(string(text)), " ")
		}
		s, _, _ := dated(t, g)
		point, err := s.DatedCheckpoint(ctx, g.boss)
		if err != nil || point.TimeStamp.Answer == nil {
			t.Fatalf("%+v %v", point, err)
		}
		text := said(g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim}))
		for _, want := range []string{"Outside anchors, to compare with:", "The checkpoint at", "proof/anchor.txt", "The time stamp on that checkpoint, of 2", "proof/anchor.tsr"} {
			if !strings.Contains(text, want) {
				t.Errorf("%q is not on it: %s", want, text)
			}
		}
		if strings.Contains(text, "No outside anchor is named") {
			t.Error(text)
		}
	})
	g := openGarage(t, "sqlite")
	if out, err := g.anchors(ctx, g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim}).Statement); err != nil || len(out) != 0 {
		t.Errorf("%q %v", out, err)
	}
}

// Whether the authority can be reached changes nothing that the fingerprint covers: two
// annexes differ in the files of stamps alone, which their own text names, and in the same
// state they are the same bytes. The paper beside them is the same in both.
func TestAnAuthorityThatIsDownChangesOnlyItsFiles(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		s, a, way := dated(t, g)
		if _, err := s.Checkpoint(ctx, g.boss); err != nil {
			t.Fatal(err)
		}
		g.Shop = s
		v := g.packetOf(t, g.boss, NewPacket{Claim: rob(t, g, true).claim})
		way.to = nil
		down, sheet := g.annexOf(t, v), g.whole(t, v)[handOverFile]
		if !bytes.Equal(g.annexOf(t, v), down) {
			t.Error("with the authority down, two builds differ")
		}
		way.to = a.Client().Transport
		up := g.annexOf(t, v)
		if point, err := s.DatedCheckpoint(ctx, g.boss); err != nil || point.TimeStamp.Answer == nil {
			t.Fatalf("%+v %v", point, err)
		}
		if !bytes.Equal(g.annexOf(t, v), up) {
			t.Error("with the authority up, two builds differ")
		}
		if !bytes.Equal(g.whole(t, v)[handOverFile], sheet) {
			t.Error("the hand-over sheet is another")
		}
		was, _ := unzippedFiles(t, down)
		now, _ := unzippedFiles(t, up)
		var differ []string
		for name := range maps.Keys(merged(was, now)) {
			if !bytes.Equal(was[name], now[name]) {
				_, path, _ := strings.Cut(name, "/")
				differ = append(differ, path)
			}
		}
		slices.Sort(differ)
		if !slices.Equal(differ, []string{"proof/tagmanifest.tsr"}) {
			t.Errorf("they differ in %q", differ)
		}
		for what, zipped := range map[string][]byte{"down": down, "up": up} {
			said, err := verifyBytes(zipped, PacketQuery{Roots: a.PEM(t)})
			if err != nil || len(said.Problems) > 0 || !strings.Contains(strings.Join(said.Said, " "), v.Fingerprint) {
				t.Errorf("%s: %q %v", what, said.Problems, err)
			}
		}
		var how []byte
		for name, raw := range was {
			if strings.HasSuffix(name, "HOW-TO-CHECK.txt") {
				how = raw
			}
		}
		if !bytes.Contains(how, []byte("the only files that the fingerprint does not cover")) {
			t.Error("its own text does not say so")
		}
	})
}

// A stamp on the older checkpoint that comes after a packet was built does not keep it from
// being built again, nor does it spoil it.
func TestAnAnchorThatIsDatedLater(t *testing.T) {
	g := openGarage(t, "sqlite")
	s, a, way := dated(t, g)
	g.Shop = s
	way.to = nil
	if _, err := s.Checkpoint(ctx, g.boss); err != nil {
		t.Fatal(err)
	}
	point, err := s.DatedCheckpoint(ctx, g.boss)
	must(t, err)
	v := g.packetOf(t, g.boss, NewPacket{Claim: rob(t, g, true).claim})
	first, _ := unzippedFiles(t, g.annexOf(t, v))
	way.to = a.Client().Transport
	stamped, err := s.timeStamp(ctx, g.boss, sha256.Sum256([]byte(point.Note)))
	if err != nil || stamped.Answer == nil {
		t.Fatalf("%+v %v", stamped, err)
	}
	later := g.annexOf(t, v)
	then, _ := unzippedFiles(t, later)
	if len(then) != len(first)+2 { // the anchor's stamp, and the bag's
		t.Errorf("%d files, and %d once it was dated", len(first), len(then))
	}
	said, err := verifyBytes(later, PacketQuery{Roots: a.PEM(t)})
	if err != nil || len(said.Problems) > 0 || !strings.Contains(strings.Join(said.Said, " "), "Time stamp on the older checkpoint by") {
		t.Errorf("%q %q %v", said.Said, said.Problems, err)
	}
}

// A time stamp on an older checkpoint that does not hold is named, in what is said and on the
// hand-over sheet, and keeps no packet from being built of a copy: it is not handed over.
func TestABadStampOnAnOlderCheckpoint(t *testing.T) {
	g := openGarage(t, "sqlite")
	s, _, _ := dated(t, g)
	g.Shop = s
	point, err := s.DatedCheckpoint(ctx, g.boss)
	if err != nil || point.TimeStamp.Answer == nil {
		t.Fatalf("%+v %v", point, err)
	}
	claim := rob(t, g, true).claim
	g.clock.advance(time.Hour)
	kept := g.keptElsewhere(t, g.boss)
	was := base64.StdEncoding.EncodeToString(point.TimeStamp.Answer)
	other := slices.Clone(point.TimeStamp.Answer)
	other[len(other)/2] ^= 1
	altered := rewritten(t, kept, "data/standing.json", func(raw []byte) []byte {
		return bytes.ReplaceAll(raw, []byte(was), []byte(base64.StdEncoding.EncodeToString(other)))
	})
	const bad = "DOES NOT HOLD"
	if said, err := verifyBytes(altered, PacketQuery{}); err != nil || !strings.Contains(strings.Join(said.Problems, " "), bad) {
		t.Errorf("verify of the copy: %q %v", said.Problems, err)
	}
	for what, c := range map[string]struct {
		copy []byte
		bad  bool
	}{"as it was": {kept, false}, "altered": {altered, true}} {
		p, err := PacketFromCopies(ctx, []CopyFile{fileOf(c.copy)}, FromCopy{Claim: claim})
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if got := strings.Contains(strings.Join(p.Said, " "), bad); got != c.bad {
			t.Errorf("%s: %q", what, p.Said)
		}
		files, _ := unzippedFiles(t, p.annex(t))
		stamped := false
		for name := range files {
			stamped = stamped || strings.HasSuffix(name, "/proof/anchor.tsr")
		}
		if stamped == c.bad {
			t.Errorf("%s: the stamp goes along: %v", what, stamped)
		}
		for _, f := range p.Files {
			if err := f.Write(ctx, io.Discard); err != nil {
				t.Errorf("%s: %s: %v", what, f.Name, err)
			}
		}
		p.Close()
	}
}

func merged[V any](a, b map[string]V) map[string]V {
	out := maps.Clone(a)
	maps.Copy(out, b)
	return out
}
