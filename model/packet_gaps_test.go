package model

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/register"
)

// keep keeps bytes as an original and records them as what a tool is shown by.
func (g *garage) keep(t *testing.T, row evidence.Record, raw []byte) {
	t.Helper()
	if _, _, err := g.originals.Put(ctx, hashOf(raw), bytes.NewReader(raw), evidence.MaxBytes); err != nil {
		t.Fatal(err)
	}
	row.SHA256, row.Bytes = hashOf(raw), int64(len(raw))
	put(t, g, &row)
}

// whole writes all files of a packet.
func (g *garage) whole(t *testing.T, v PacketView) map[string][]byte {
	t.Helper()
	all, err := g.PacketFiles(ctx, v, 0)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range all {
		var b bytes.Buffer
		if err := f.Write(ctx, &b); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		out[f.Name] = b.Bytes()
	}
	return out
}

// A paper that is a picture without a view is a gap like a photo: the packet is built, its
// paper drawn, and the list of the claim's packets stays readable.
func TestAPaperWithoutAViewIsAGap(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		id := g.id(t, r.shops)
		g.keep(t, evidence.Record{ID: "E-HEIC", Tool: id, Kind: evidence.Receipt, MediaType: evidence.TypeHEIC, ReceivedAt: 5}, []byte("heic"))
		g.keep(t, evidence.Record{ID: "E-CUT", Tool: id, Kind: evidence.Receipt, MediaType: evidence.TypePNG, ReceivedAt: 6}, picture(21)[:60])
		v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
		gaps := 0
		for _, f := range v.Statement.Lines[0].Files {
			if f.Gap() != "" {
				gaps++
			}
		}
		if gaps != 2 {
			t.Errorf("%d gaps: %+v", gaps, v.Statement.Lines[0].Files)
		}
		if got := g.whole(t, v); len(got["claim.pdf"]) == 0 || len(got[AnnexFile]) == 0 {
			t.Errorf("%d files", len(got))
		}
		if all, err := g.Packets(ctx, g.manager, r.claim); err != nil || len(all) != 1 {
			t.Errorf("%d packets, %v", len(all), err)
		}
	})
}

// What keeps a picture from being drawn just now is no gap, which would stay in the packet:
// nothing is built.
func TestAPassingTroubleIsNoGap(t *testing.T) {
	trouble := fault.New(fault.Unavailable, "the disk is full")
	e := evidence.Record{ID: "E-1", Kind: evidence.Plate, MediaType: evidence.TypePNG}
	why, err := cannotDraw(e, true, func(claims.File) ([]byte, error) { return nil, trouble })
	if why != "" || !errors.Is(err, trouble) {
		t.Errorf("a gap for good: %q, %v", why, err)
	}
	wantFault(t, err, fault.Unavailable, "E-1 cannot be drawn just now: the disk is full")
	why, err = cannotDraw(e, true, func(claims.File) ([]byte, error) { return nil, fault.New(fault.NotFound, "no view") })
	if why == "" || err != nil {
		t.Errorf("%q, %v", why, err)
	}
	var facts claims.Facts
	facts.WhyNot = func(evidence.Record) (string, error) { return "", trouble }
	facts.Tools = []claims.ToolFacts{{Tool: register.Tool{ID: "T-1"}, Evidence: []evidence.Record{e}}}
	if _, _, err := claims.Build(facts); !errors.Is(err, trouble) {
		t.Errorf("it is built: %v", err)
	}
}

// Two claims on one loss read the same line alike, whichever packet was built last.
func TestTwoClaimsOfALossReadAlike(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, false)
		now := dates.InstantOf(g.clock.Now())
		put(t, g, &claims.Claim{ID: "C-OWN", Kind: claims.Insurance, Loss: r.loss, Owner: g.techA.Person, Opened: now})
		g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
		if _, err := g.ChangeTool(ctx, g.manager, r.shops, AnyRevision, register.Change{Maker: ptr("Other")}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(time.Hour)
		if v := g.packetOf(t, g.techA, NewPacket{Claim: "C-OWN"}); len(v.Statement.Lines) != 1 || v.Statement.Lines[0].Number != r.techs {
			t.Fatalf("%+v", v.Statement.Lines)
		}
		g.clock.advance(time.Hour)
		_, err := g.BuildPacket(ctx, g.manager, NewPacket{Claim: r.claim})
		wantFault(t, err, fault.Refused, "would not read as on the papers that were given out", "line", "1")
	})
}

// A repeat under its own key is answered with the packet that it built, though the record
// says otherwise by now.
func TestARepeatIsNotHeldAgainstItself(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		in := NewPacket{Claim: rob(t, g, true).claim}
		by := g.manager
		by.Key = "packet-9"
		first := g.packetOf(t, by, in)
		if _, err := g.ChangeTool(ctx, g.manager, first.Statement.Lines[0].Number, AnyRevision, register.Change{Maker: ptr("Other")}); err != nil {
			t.Fatal(err)
		}
		again, err := g.BuildPacket(ctx, by, in)
		if err != nil || again.ID != first.ID || len(again.Left) != len(first.Left) {
			t.Errorf("%s and %s: %v", first.ID, again.ID, err)
		}
	})
}
