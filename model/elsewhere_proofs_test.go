package model

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/bag"
	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/markings"
	"pawl/model/packets"
	"pawl/model/proofs"
	"pawl/model/register"
	"pawl/model/worth"
)

// used is a shop with a torque wrench that was tightened with, taken to a job and looked at,
// rolled and signed on the day before a theft, and rolled again since.
func used(t *testing.T, g *garage) (wrench, claim string) {
	t.Helper()
	w := g.goodWrench(t, "E-7")
	if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042", Vehicle: ptr("QVEHICLEZ"), Safety: ptr("yes")}); err != nil {
		t.Fatal(err)
	}
	g.took(t, w, "1042")
	g.clock.advance(time.Minute)
	if _, err := g.Tighten(ctx, g.techA, w, Use{Ask: nuts, Job: "1042", Name: "wheel nuts", Count: 5}); err != nil {
		t.Fatal(err)
	}
	g.gaveBack(t, w, Return{Condition: "scratched"})
	if _, err := g.ChangeTool(ctx, g.boss, w, AnyRevision, register.Change{Price: ptr("240.00"), Bought: ptr("2024-11-01")}); err != nil {
		t.Fatal(err)
	}
	id := g.id(t, w)
	put(t, g, &markings.Term{ID: "X-T", Tool: id, Marking: "M-1", From: "2026-10-01", Protection: "lacquer"})
	put(t, g, &markings.Check{ID: "X-C", Tool: id, Marking: "M-1", On: "2026-10-20", Grade: ptr(int64(3)), Read: "NW44?1B"})
	if _, err := g.SetLife(ctx, g.boss, worth.NewLife{Kind: "torque wrench", Months: "120", Floor: "0.10"}); err != nil {
		t.Fatal(err)
	}
	if _, err := g.Checkpoint(ctx, g.boss); err != nil {
		t.Fatal(err)
	}
	if said := g.roll(t); said == "" {
		t.Fatal("nothing was rolled")
	}
	if _, err := g.Checkpoint(ctx, g.boss); err != nil {
		t.Fatal(err)
	}
	g.clock.advance(25 * time.Hour)
	now := dates.InstantOf(g.clock.Now())
	put(t, g, &claims.Loss{ID: "L-USED", Kind: claims.Theft, Found: now, Spot: "side door", Started: now})
	g.clock.advance(time.Hour)
	put(t, g, &claims.LossLine{ID: "Y-U", Loss: "L-USED", Tool: id, Line: 1, Supplement: 1, Confirmed: now, LastSeen: now - 5, SeenHow: "custody"})
	put(t, g, &claims.Claim{ID: "C-USED", Kind: claims.Insurance, Loss: "L-USED", Opened: now})
	g.clock.advance(25 * time.Hour)
	if said := g.roll(t); said == "" {
		t.Fatal("nothing was rolled again")
	}
	if _, err := g.Checkpoint(ctx, g.boss); err != nil {
		t.Fatal(err)
	}
	return w, "C-USED"
}

// From the copy alone a packet says of a tool, of its last sighting, its jobs and its
// tightenings, what the shop's own says, and proves it under the same rolls and the same
// older checkpoint.
func TestThePacketFromTheCopyProvesAsMuch(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w, claim := used(t, g)
		kept := g.keptWith(t, g.boss, packets.Had{}, "tightenings", "overrides", "rechecks", "jobs")
		for _, e := range entries(t, kept) {
			if bytes.Contains(e.raw, []byte("QVEHICLEZ")) {
				t.Errorf("%s tells whose vehicle it was", e.name)
			}
		}
		add := []string{"tightenings", "overrides", "rechecks", "jobs", "acv"}
		for _, c := range []struct {
			shop NewPacket
			from FromCopy
		}{
			{NewPacket{Ownership: w, Add: add}, FromCopy{Tools: []string{w}, Add: add}},
			{NewPacket{Claim: claim, Add: add}, FromCopy{Claim: claim, Add: add}},
		} {
			v := g.packetOf(t, g.boss, c.shop)
			p, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, c.from)
			if err != nil {
				t.Fatal(err)
			}
			defer p.Close()
			was, now := v.Statement.Lines, p.Statement.Lines
			if a, b := inJSON(t, was), inJSON(t, now); a != b {
				t.Errorf("the shop says %s\nthe copy %s", a, b)
			}
			if now[0].LastSeen == 0 || len(now[0].Extra) != 2 || !strings.Contains(strings.Join(now[0].Extra, " "), "wheel nuts") || !strings.Contains(now[0].Extra[1], "job 1042") {
				t.Errorf("last seen %s, %q", now[0].LastSeen, now[0].Extra)
			}
			if now[0].Working == "" || !strings.Contains(now[0].Working, "120") {
				t.Errorf("by the lives that the shop set: %q", now[0].Working)
			}
			mine, theirs := provenIn(t, g.annexOf(t, v)), provenIn(t, p.annex(t))
			if len(theirs.Rolls) != len(mine.Rolls) || len(theirs.Rolls) == 0 {
				t.Fatalf("%d rolls, and %d from the copy", len(mine.Rolls), len(theirs.Rolls))
			}
			for i, r := range theirs.Rolls {
				if r.ID != mine.Rolls[i].ID || r.Shown != 1 || (r.Anchor == 0) != (mine.Rolls[i].Anchor == 0) && c.from.Claim != "" {
					t.Errorf("roll %d: %+v, from the copy %+v", i, mine.Rolls[i], r)
				}
			}
			if c.from.Claim != "" && (len(theirs.Rolls) != 2 || theirs.Anchor == nil || mine.Anchor == nil || theirs.Anchor.Note != mine.Anchor.Note) {
				t.Errorf("%d rolls, anchors %v and %v", len(theirs.Rolls), mine.Anchor, theirs.Anchor)
			}
		}
		_, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Tools: []string{w}, Add: []string{"customers"}})
		wantFault(t, err, "invalid", "holds no customers")
	})
}

// The copy itself shows every tool under its rolls, and the rows that wear rests on.
func TestTheCopyHoldsRollsAndChecks(t *testing.T) {
	g := openGarage(t, "sqlite")
	w, _ := used(t, g)
	g.tool(t) // since the last roll
	g.clock.advance(25 * time.Hour)
	if said := g.roll(t); said == "" {
		t.Fatal("nothing was rolled")
	}
	kept := g.keptWith(t, g.manager, packets.Had{}, "tightenings")
	c, err := packets.CheckElsewhere(bagOf(t, kept), proofs.Outside{})
	if err != nil || len(c.Problems) > 0 {
		t.Fatalf("%v %q", err, c.Problems)
	}
	if len(c.Proven.Rolls) != 2 || c.Proven.Rolls[1].Shown != 2 || len(c.Points) != 2 {
		t.Errorf("rolls %+v, points %d", c.Proven.Rolls, len(c.Points))
	}
	for _, noun := range []string{"term", "check", "use", "loan", "life"} {
		ids := c.Proven.IDs(noun)
		if len(ids) != 1 || c.Proven.Records[proofs.RecordID{Noun: noun, ID: ids[0]}].After == nil {
			t.Errorf("%s: %q, or withheld", noun, ids)
		}
	}
	opened := copied{newest: c}
	if loans, err := decoded[custody.Loan](&opened, "loan"); err != nil || len(loans) != 1 || loans[0].Tool != g.id(t, w) {
		t.Errorf("%+v %v", loans, err)
	}
	altered := entries(t, kept)
	for i, e := range altered {
		if strings.HasSuffix(e.name, "data/standing.json") {
			altered[i].raw = bytes.Replace(e.raw, []byte(`"note": "pawl/`), []byte(`"note": "pawX/`), 1)
		}
	}
	bad, err := packets.CheckElsewhere(bagOf(t, rezipped(t, altered)), proofs.Outside{})
	if err != nil || !slices.ContainsFunc(bad.Problems, func(p string) bool { return strings.Contains(p, "its older checkpoint of") }) {
		t.Errorf("%v %q", err, bad.Problems)
	}
}

// A copy that withholds what was asked for on purpose is no proof that there was none.
func TestWhatTheCopyWithholdsIsNotSaidToBeNothing(t *testing.T) {
	g := openGarage(t, "sqlite")
	w, _ := used(t, g)
	again := g.keptElsewhere(t, g.manager)
	for _, e := range entries(t, again) {
		for _, secret := range []string{"wheel nuts", "1042"} {
			if bytes.Contains(e.raw, []byte(secret)) {
				t.Errorf("%s tells %q, unasked", e.name, secret)
			}
		}
	}
	_, err := g.KeepElsewhere(ctx, g.manager, packets.Had{}, "customers")
	wantFault(t, err, "invalid", "does not take customers")
	_, err = PacketFromCopies(ctx, []CopyFile{fileOf(again)}, FromCopy{Tools: []string{w}, Add: []string{"tightenings"}})
	wantFault(t, err, "invalid", "does not tell 1 tightenings")
	p, err := PacketFromCopies(ctx, []CopyFile{fileOf(again)}, FromCopy{Tools: []string{w}})
	must(t, err)
	p.Close()
}

func inJSON(t *testing.T, v any) string {
	t.Helper()
	raw, err := json.MarshalIndent(v, "", " ")
	must(t, err)
	return string(raw)
}

func (p CopiedPacket) annex(t *testing.T) []byte {
	t.Helper()
	var out bytes.Buffer
	for _, f := range p.Files {
		if f.Name == AnnexFile {
			must(t, f.Write(ctx, &out))
		}
	}
	return out.Bytes()
}

func provenIn(t *testing.T, annex []byte) proofs.Proven {
	t.Helper()
	b, err := bag.Open(bytes.NewReader(annex), int64(len(annex)))
	must(t, err)
	p, err := proofs.Check(b, proofs.Outside{})
	if err != nil || len(p.Problems) > 0 {
		t.Fatalf("%v %q", err, p.Problems)
	}
	return p
}
