package model

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/packets"
	"pawl/model/proofs"
	"pawl/model/register"
	"pawl/model/worth"
)

func (g *garage) keptElsewhere(t *testing.T, by By, have ...string) []byte {
	t.Helper()
	var had packets.Had
	for _, sum := range have {
		must(t, had.Add(sum))
	}
	return g.keptWith(t, by, had)
}

// keptWith is such a copy with what is added on purpose.
func (g *garage) keptWith(t *testing.T, by By, had packets.Had, add ...string) []byte {
	t.Helper()
	k, err := g.KeepElsewhere(ctx, by, had, add...)
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
		a, err := verifyBytes(annex.Bytes(), PacketQuery{Key: c.Proven.Key})
		if err != nil || len(a.Problems) > 0 || a.Originals != 2 || !saysFingerprint(a, p.Fingerprint) {
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
	if _, err := g.KeepElsewhere(ctx, g.techA, packets.Had{}); !fault.Is(err, fault.Forbidden) {
		t.Errorf("a technician keeps it: %v", err)
	}
}

// What a packet was asked to hold and cannot is not said to be in it: a reader would take
// it that there is none.
func TestWhatIsAddedIsHeld(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim, Add: []string{"market value", "customers", "originals"}})
		if got := claims.AdditionList(v.Statement.Added); got != "originals" || v.Added != got {
			t.Errorf("added: %q, recorded %q", got, v.Added)
		}
		for _, what := range []string{"market value", "customers"} {
			if !slices.ContainsFunc(v.Left, func(l claims.LeftOut) bool { return l.What == what && l.Number == r.shops }) {
				t.Errorf("nothing is said of %s: %+v", what, v.Left)
			}
		}
		kept := []CopyFile{fileOf(g.keptElsewhere(t, g.manager))}
		_, err := PacketFromCopies(ctx, kept, FromCopy{Claim: r.claim, Add: []string{"jobs", "customers", "acv"}})
		wantFault(t, err, fault.Invalid, "holds no customers")
		p, err := PacketFromCopies(ctx, kept, FromCopy{Claim: r.claim, Add: []string{"acv"}})
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		if p.Statement.Lines[0].ActualCash == nil || len(p.Statement.Added) != 1 {
			t.Errorf("%+v", p.Statement.Lines[0])
		}
	})
}

// From the copy a claim says what it asks for, what is about its loss as a whole, and in
// which condition a tool last came back, as the shop does.
func TestAClaimFromTheCopySaysAsMuch(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		put(t, g, &claims.ClaimLine{ID: "Y-8", Claim: r.claim, Tool: g.id(t, r.shops), Line: 1, Amount: ptr(int64(64900)), Currency: "USD"})
		for i, k := range []evidence.Kind{evidence.Police, evidence.Damage} {
			raw := picture(byte(51 + i))
			put(t, g, &evidence.Record{ID: fmt.Sprint("E-", i), Loss: r.loss, Kind: k, SHA256: g.upload(t, g.manager, raw), MediaType: evidence.TypePNG, Bytes: int64(len(raw)), Width: 8, Height: 8, ReceivedAt: dates.InstantOf(g.clock.Now())})
		}
		for _, act := range []func() (Done, error){
			func() (Done, error) { return g.Take(ctx, g.techA, r.shops, Take{}) },
			func() (Done, error) { return g.Return(ctx, g.techA, r.shops, Return{Condition: "a dent in the lid"}) },
		} {
			if _, err := act(); err != nil {
				t.Fatal(err)
			}
		}
		// What is asked for a tool of Tech A's, who does not share, stays here with its price.
		put(t, g, &claims.ClaimLine{ID: "Y-9", Claim: r.claim, Tool: g.id(t, r.techs), Line: 2, Amount: ptr(int64(7654321)), Currency: "USD"})
		v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
		kept := g.keptElsewhere(t, g.manager)
		for _, e := range entries(t, kept) {
			if bytes.Contains(e.raw, []byte("7654321")) {
				t.Errorf("%s tells what is asked for a tool of Tech A's", e.name)
			}
		}
		p, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Claim: r.claim})
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		was, now := v.Statement, p.Statement
		if a := now.Lines[0].Claimed; a == nil || *a != 64900 {
			t.Errorf("asked for: %v", a)
		}
		if len(was.Files) != 2 || len(now.Files) != 2 || now.Files[0].Record != was.Files[0].Record || now.Files[1].SHA256 != was.Files[1].SHA256 {
			t.Errorf("of the loss: %+v, from the copy %+v", was.Files, now.Files)
		}
		if a, b := was.Lines[0].Condition, now.Lines[0].Condition; a != "a dent in the lid" || b != a {
			t.Errorf("condition %q, from the copy %q", a, b)
		}
		must(t, now.Check())
	})
}

// Whom a policy covered when a claim was made on it, it covered, in the copy too.
func TestAClaimOnAPolicyThatEndedFromTheCopy(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		if _, err := g.ChangePerson(ctx, g.techA, g.techA.Person, AnyRevision, PersonChange{Shares: ptr(true)}); err != nil {
			t.Fatal(err)
		}
		all, err := g.Policies(ctx, g.boss)
		if err != nil {
			t.Fatal(err)
		}
		var others []string
		for _, name := range []string{"In force", "Ended, never claimed on"} {
			p, err := g.AddPolicy(ctx, g.boss, NewPolicy{NewPolicy: worth.NewPolicy{Name: name, Limit: "5", Deductible: "0", Basis: "rcv"}})
			must(t, err)
			others = append(others, p.ID)
		}
		for _, ended := range []string{all[0].ID, others[1]} {
			_, err := g.EndPolicy(ctx, g.boss, ended)
			must(t, err)
		}
		kept := g.keptElsewhere(t, g.manager)
		c, err := packets.CheckElsewhere(bagOf(t, kept), proofs.Outside{})
		if err != nil || len(c.Problems) > 0 || len(c.Policies) != 2 {
			t.Fatalf("%v %q, policies %+v", err, c.Problems, c.Policies)
		}
		p, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Claim: r.claim})
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		if len(p.Statement.Lines) != 2 || len(p.Left) != 0 || p.Statement.Claim.Policy != "Shop contents" {
			t.Errorf("%d lines, left %+v, policy %q", len(p.Statement.Lines), p.Left, p.Statement.Claim.Policy)
		}
	})
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
