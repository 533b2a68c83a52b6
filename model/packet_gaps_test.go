package model

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/numbers"
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

// Photos and papers of a loss go to nobody who may not see them: not in the annex of a
// technician's own claim either, and that they were left out is said.
func TestPapersOfALossAreForWhoeverSettlesIt(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		g.keep(t, evidence.Record{ID: "E-POLICE", Loss: r.loss, Kind: evidence.Police, MediaType: evidence.TypePDF, ReceivedAt: 5}, []byte("%PDF-1.4 what all of it cost"))
		put(t, g, &claims.Claim{ID: "C-OWN", Kind: claims.Insurance, Loss: r.loss, Owner: g.techA.Person, Opened: 1})
		v := g.packetOf(t, g.techA, NewPacket{Claim: "C-OWN"})
		if len(v.Statement.Files) != 0 || !bytes.Contains(g.annexOf(t, g.packetOf(t, g.boss, NewPacket{Claim: r.claim})), []byte("police.pdf")) {
			t.Errorf("%+v", v.Statement.Files)
		}
		f, err := g.PacketFile(ctx, g.techA, v.ID, AnnexFile, 0)
		if err != nil {
			t.Fatal(err)
		}
		var annex bytes.Buffer
		if err := f.Write(ctx, &annex); err != nil || bytes.Contains(annex.Bytes(), []byte("police.pdf")) {
			t.Errorf("the police report is in it: %v", err)
		}
		if len(v.Left) == 0 || v.Left[0].Number != r.loss || v.Left[0].What != "photos and papers of the loss" {
			t.Errorf("left out: %+v", v.Left)
		}
		if again, err := g.Packet(ctx, g.techA, v.ID, true); err != nil || len(again.Changed) != 0 {
			t.Errorf("changed since: %q, %v", again.Changed, err)
		}
		if err := g.originals.Remove(hashOf([]byte("%PDF-1.4 what all of it cost"))); err != nil {
			t.Fatal(err)
		}
		g.damaged = true
		v = g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
		if !slices.ContainsFunc(v.Left, func(l claims.LeftOut) bool { return l.Number == r.loss && l.Why == "its original is not here any more" }) {
			t.Errorf("left out: %+v", v.Left)
		}
	})
}

// An id is found as it is typed, in either case.
func TestIDsOfPacketsInSmallLetters(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		id, err := numbers.NewID('C', strings.NewReader("a claim of this test"))
		if err != nil {
			t.Fatal(err)
		}
		put(t, g, &claims.Claim{ID: id, Kind: claims.Insurance, Loss: r.loss, Opened: 1})
		small := strings.ToLower(id)
		v := g.packetOf(t, g.manager, NewPacket{Claim: small})
		if again, err := g.Packet(ctx, g.manager, strings.ToLower(v.ID), false); err != nil || again.ID != v.ID || again.Claim != id {
			t.Errorf("%+v %v", again.Packet, err)
		}
		if all, err := g.Packets(ctx, g.manager, small); err != nil || len(all) != 1 {
			t.Errorf("%d packets, %v", len(all), err)
		}
		e, err := g.EnrollViewer(ctx, g.boss, "Adjuster", "2026-12-01", small)
		if err != nil {
			t.Fatal(err)
		}
		in, err := g.Enter(ctx, Entry{Secret: e.Secret, Device: "tablet"}, "192.0.2.1")
		if err != nil {
			t.Fatal(err)
		}
		if a, err := g.Session(ctx, in.Secret); err != nil || a.Claim != id {
			t.Errorf("%+v %v", a, err)
		}
	})
}

// Listing packets draws nothing, and whoever asks for parts of many sizes fills no disk:
// documents that were drawn are kept in a few divisions, and drawn again when asked for.
func TestListsDrawNothingAndFewDivisionsAreKept(t *testing.T) {
	g := openGarage(t, "sqlite")
	v := g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim})
	rooms := func() int {
		all, err := os.ReadDir(filepath.Join(g.Dir, "views", "papers"))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
		return len(all)
	}
	files, err := g.PacketFiles(ctx, v, 0)
	if err != nil || files[0].Name != "claim.pdf" || rooms() != 0 {
		t.Fatalf("%v, %d rooms, %+v", err, rooms(), files)
	}
	// For whoever went away nothing is drawn on, and nothing half drawn is kept.
	gone, leave := context.WithCancel(ctx)
	leave()
	if _, err := g.PacketFiles(gone, v, 300_000); !errors.Is(err, context.Canceled) || rooms() != 0 {
		t.Errorf("whoever asked went away: %v, %d rooms", err, rooms())
	}
	if got := g.whole(t, v)["claim.pdf"]; len(got) == 0 || rooms() != 1 {
		t.Errorf("%d bytes, %d rooms", len(got), rooms())
	}
	var first []PacketFile
	for i := range int64(8) {
		parts, err := g.PacketFiles(ctx, v, 300_001+i)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = parts
		}
		if rooms() > mostRooms {
			t.Errorf("%d rooms", rooms())
		}
	}
	var again bytes.Buffer
	if err := first[0].Write(ctx, &again); err != nil || again.Len() == 0 {
		t.Errorf("a division that was cleared: %d bytes, %v", again.Len(), err)
	}
}
