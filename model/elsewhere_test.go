package model

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/packets"
	"pawl/model/proofs"
	"pawl/model/register"
)

func (g *garage) keptElsewhere(t *testing.T, by By, have ...string) []byte {
	t.Helper()
	k, err := g.KeepElsewhere(ctx, by, have)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := k.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func fileOf(raw []byte) CopyFile { return CopyFile{bytes.NewReader(raw), int64(len(raw))} }

// From the copy alone, without any shop, comes the packet that the shop would build, with
// proofs that hold; what somebody did not share is not in it.
func TestPacketFromTheCopyAlone(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		if e, err := g.Elsewhere(ctx, g.manager); err != nil || !e.Old() || e.Days != -1 {
			t.Fatalf("%+v %v", e, err)
		}
		kept := g.keptElsewhere(t, g.manager)
		c, err := packets.CheckElsewhere(bagOf(t, kept), proofs.Outside{})
		if err != nil || len(c.Problems) > 0 || c.Here != 2 || c.Proven.Withheld == 0 {
			t.Fatalf("%v %q here %d", err, c.Problems, c.Here)
		}
		if v, err := VerifyPacket(bytes.NewReader(kept), int64(len(kept)), PacketQuery{}); err != nil || len(v.Problems) > 0 || v.Originals != 2 || !strings.HasPrefix(v.Said[0], "Consistent with itself.") {
			t.Errorf("%+v %v", v, err)
		}
		if e, err := g.Elsewhere(ctx, g.manager); err != nil || e.Old() || e.Days != 0 {
			t.Errorf("%+v %v", e, err)
		}
		v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
		p, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Claim: r.claim})
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		if len(p.Statement.Lines) != 1 {
			t.Fatalf("%d lines", len(p.Statement.Lines)) // what Tech A does not share did not leave the house
		}
		was, now := v.Statement.Lines[0], p.Statement.Lines[0]
		if said := claims.Changed(claims.Statement{Lines: []claims.Line{was}}, claims.Statement{Lines: []claims.Line{now}}); len(said) > 0 {
			t.Errorf("from the copy it says otherwise: %q", said)
		}
		var annex bytes.Buffer
		for _, f := range p.Files {
			if f.Name == AnnexFile {
				if err := f.Write(ctx, &annex); err != nil {
					t.Fatal(err)
				}
			}
		}
		a, err := packets.Check(bagOf(t, annex.Bytes()), proofs.Outside{Key: c.Proven.Key})
		if err != nil || len(a.Problems) > 0 || a.Files != 2 || a.Fingerprint != p.Fingerprint {
			t.Errorf("%v %q", err, a.Problems)
		}
		_, err = PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Tools: []string{r.techs}})
		wantFault(t, err, fault.NotFound, "did not share it")
		own, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Tools: []string{r.shops}})
		if err != nil || own.Statement.Kind != claims.Ownership {
			t.Fatal(err)
		}
		own.Close()
	})
}

// A later copy leaves out what an earlier one has; with both a packet is whole, with the
// later alone it says what is not there.
func TestALaterCopyFollowsAnEarlierOne(t *testing.T) {
	g := openGarage(t, "sqlite")
	r := rob(t, g, false)
	first := g.keptElsewhere(t, g.manager)
	c, err := packets.CheckElsewhere(bagOf(t, first), proofs.Outside{})
	if err != nil {
		t.Fatal(err)
	}
	var have []string
	for _, f := range c.Files {
		have = append(have, f.SHA256)
	}
	g.clock.advance(31 * 24 * time.Hour)
	if e, err := g.Elsewhere(ctx, g.manager); err != nil || !e.Old() || e.Days != 31 {
		t.Errorf("%+v %v", e, err)
	}
	whole := g.upload(t, g.manager, picture(40))
	if _, err := g.Attach(ctx, g.manager, r.shops, []register.Attach{{Kind: "whole", SHA256: whole}}); err != nil {
		t.Fatal(err)
	}
	later := g.keptElsewhere(t, g.manager, have...)
	l, err := packets.CheckElsewhere(bagOf(t, later), proofs.Outside{})
	if err != nil || len(l.Problems) > 0 || l.Here != 1 || l.Follows != 2 {
		t.Fatalf("%v %q here %d follows %d", err, l.Problems, l.Here, l.Follows)
	}
	for _, one := range []struct {
		files []CopyFile
		left  int
	}{{[]CopyFile{fileOf(later)}, 2}, {[]CopyFile{fileOf(later), fileOf(first)}, 0}, {[]CopyFile{fileOf(first), fileOf(later)}, 0}} {
		p, err := PacketFromCopies(ctx, one.files, FromCopy{Tools: []string{r.shops}})
		if err != nil {
			t.Fatal(err)
		}
		if got := len(p.Left); got != one.left || len(p.Statement.Lines[0].Files) != 3 {
			t.Errorf("%d copies: left out %+v, %d files", len(one.files), p.Left, len(p.Statement.Lines[0].Files))
		}
		p.Close()
	}
	broken := entries(t, later)
	for i, e := range broken {
		if strings.Contains(e.name, "/data/originals/") {
			broken[i].raw = append([]byte{e.raw[0] ^ 1}, e.raw[1:]...)
		}
	}
	if _, err := PacketFromCopies(ctx, []CopyFile{fileOf(rezipped(t, broken))}, FromCopy{Tools: []string{r.shops}}); !fault.Is(err, fault.Invalid) {
		t.Error("a copy that does not hold is taken")
	}
	if _, err := g.KeepElsewhere(ctx, g.techA, nil); !fault.Is(err, fault.Forbidden) {
		t.Errorf("a technician keeps it: %v", err)
	}
}

// A lost original is listed with why, and does not keep the others from being kept: neither
// the copy nor a packet from it is spoiled.
func TestALostOriginalSpoilsNoCopy(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		g.damaged = true
		if err := g.originals.Remove(hashOf(picture(12))); err != nil {
			t.Fatal(err)
		}
		raw := g.keptElsewhere(t, g.manager)
		c, err := packets.CheckElsewhere(bagOf(t, raw), proofs.Outside{})
		if err != nil || len(c.Problems) > 0 {
			t.Fatalf("%v %q", err, c.Problems)
		}
		lost := 0
		for _, o := range c.Files {
			if o.Why != "" {
				if lost++; o.SHA256 != hashOf(picture(12)) || o.Path != "" {
					t.Errorf("%+v", o)
				}
			}
		}
		if lost != 1 || c.Here == 0 || c.Follows != 0 {
			t.Errorf("%d lost, %d here, %d in an earlier copy", lost, c.Here, c.Follows)
		}
		told := false
		for _, e := range entries(t, raw) {
			told = told || strings.HasSuffix(e.name, "READ-ME-FIRST.txt") && bytes.Contains(e.raw, []byte("NOT IN HERE: 1 photos and papers"))
		}
		if e, err := g.Elsewhere(ctx, g.manager); err != nil || e.Old() || !told {
			t.Errorf("%+v %v, told %v", e, err, told)
		}
		p, err := PacketFromCopies(ctx, []CopyFile{fileOf(raw)}, FromCopy{Tools: []string{r.shops}})
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		if !slices.ContainsFunc(p.Left, func(l claims.LeftOut) bool { return strings.Contains(l.Why, "not in the shop any more") }) {
			t.Errorf("left out: %+v", p.Left)
		}
	})
}
