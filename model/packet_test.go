package model

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/bag"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/packets"
	"pawl/model/proofs"
	"pawl/model/register"
	"pawl/model/worth"
)

// robbed is a garage after a break-in: a tool of the shop's and one of Tech A's are gone,
// and the shop claims them under its policy.
type robbed struct {
	*garage
	loss, claim  string
	shops, techs string // numbers
}

// put records rows as one act.
func put[T any](t *testing.T, g *garage, rows ...*T) {
	t.Helper()
	if _, err := store.Write(ctx, g.db, store.Act{Verb: "test", Actor: g.boss.Recorded()}, func(tx *store.Tx) (bool, error) {
		for _, r := range rows {
			if err := store.Put(tx, r); err != nil {
				return false, err
			}
		}
		return true, nil
	}); err != nil {
		t.Fatal(err)
	}
}

func (g *garage) id(t *testing.T, number string) string {
	t.Helper()
	v, err := g.Tool(ctx, g.boss, number)
	if err != nil {
		t.Fatal(err)
	}
	return v.Tool.ID
}

func rob(t *testing.T, g *garage, employees bool) robbed {
	t.Helper()
	r := robbed{garage: g, loss: "L-BREAKIN", claim: "C-BREAKIN"}
	plate, receipt := g.upload(t, g.manager, picture(11)), g.upload(t, g.manager, picture(12))
	r.shops = g.tool(t, func(in *register.New) {
		in.Maker, in.Model, in.Serial, in.Price, in.Seller, in.Notes = ptr("Nordwind"), ptr("NW-2"), ptr("NW4471B"), ptr("412.37"), ptr("Harbor counter"), ptr("red grip")
		in.SerialAgain = "NW4471B"
	})
	if _, err := g.Attach(ctx, g.manager, r.shops, []register.Attach{{Kind: "plate", SHA256: plate, Name: "plate.png"}, {Kind: "receipt", SHA256: receipt, Name: "receipt.png"}}); err != nil {
		t.Fatal(err)
	}
	own := g.upload(t, g.techA, picture(13))
	r.techs = g.tool(t, owned(g.techA), func(in *register.New) { in.Serial, in.SerialAgain, in.Maker = ptr("TA-9"), "TA-9", ptr("Kestrel") })
	if _, err := g.Attach(ctx, g.techA, r.techs, []register.Attach{{Kind: "receipt", SHA256: own}}); err != nil {
		t.Fatal(err)
	}
	v, err := g.AddPolicy(ctx, g.boss, NewPolicy{NewPolicy: worth.NewPolicy{Name: "Shop contents", Limit: "77123.00", Deductible: "250", Basis: "rcv", Employees: employees}})
	if err != nil {
		t.Fatal(err)
	}
	g.clock.advance(time.Hour)
	now := dates.InstantOf(g.clock.Now())
	put(t, g, &claims.Loss{ID: r.loss, Kind: claims.Theft, Found: now, Spot: "side door forced", Started: now})
	put(t, g, &claims.LossLine{ID: "Y-1", Loss: r.loss, Tool: g.id(t, r.shops), Line: 1, Supplement: 1, Confirmed: now, LeftBehind: "its case"},
		&claims.LossLine{ID: "Y-2", Loss: r.loss, Tool: g.id(t, r.techs), Line: 2, Supplement: 1})
	put(t, g, &claims.Claim{ID: r.claim, Kind: claims.Insurance, Loss: r.loss, Policy: v.ID, Insured: "Demo garage", Opened: now})
	return r
}

// annexOf writes the annex of a packet.
func (g *garage) annexOf(t *testing.T, v PacketView) []byte {
	t.Helper()
	var out bytes.Buffer
	f, err := g.PacketFile(ctx, g.boss, v.ID, AnnexFile, 0)
	if err == nil {
		err = f.Write(ctx, &out)
	}
	if err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func (g *garage) packetOf(t *testing.T, by By, in NewPacket) PacketView {
	t.Helper()
	v, err := g.BuildPacket(ctx, by, in)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func bagOf(t *testing.T, zipped []byte) *bag.Bag {
	t.Helper()
	b, err := bag.Open(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// unzipped unpacks a bag into a folder and gives the folder.
func unzipped(t *testing.T, zipped []byte) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		raw, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		to := filepath.Join(dir, f.Name)
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, raw, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	name, _, _ := strings.Cut(z.File[0].Name, "/")
	return filepath.Join(dir, name)
}

// A claim's packet holds what the policy covers, is as it was when it is built again, and
// says what was learned since.
func TestPacketOfAClaim(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
		st := v.Statement
		if len(st.Lines) != 2 || st.Lines[0].Number != r.shops || st.Lines[1].Number != r.techs || v.Supplement != 1 {
			t.Fatalf("%+v", st.Lines)
		}
		if a := st.Lines[0]; a.Price == nil || *a.Price != 41237 || a.Replacement == nil || a.Serial != "NW4471B" || len(a.Files) != 2 || a.Files[0].Ref != "P1" || a.Files[1].Ref != "R1" || a.ActualCash != nil || a.LeftBehind != "its case" {
			t.Errorf("%+v", a)
		}
		if b := st.Lines[1]; b.Money || b.Price != nil || b.Replacement != nil || b.Seller != "" || len(b.Files) != 0 {
			t.Errorf("what Tech A does not share is in it: %+v", b)
		}
		if !slices.ContainsFunc(v.Left, func(l claims.LeftOut) bool { return l.Number == r.techs && l.What == "price and papers" }) {
			t.Errorf("left out: %+v", v.Left)
		}
		first := g.annexOf(t, v)
		c, err := packets.Check(bagOf(t, first), proofs.Outside{})
		if err != nil || len(c.Problems) > 0 || c.Fingerprint != v.Fingerprint || c.Files != 2 || c.Proven.Withheld == 0 {
			t.Fatalf("%v %q, files %d, withheld %d, fingerprint %s", err, c.Problems, c.Files, c.Proven.Withheld, c.Fingerprint)
		}
		g.clock.advance(24 * time.Hour)
		if _, err := g.ChangeTool(ctx, g.manager, r.shops, AnyRevision, register.Change{Notes: ptr("blue grip")}); err != nil {
			t.Fatal(err)
		}
		again, err := g.Packet(ctx, g.manager, v.ID, true)
		if err != nil || !bytes.Equal(g.annexOf(t, again), first) {
			t.Fatalf("built again it is another: %v", err)
		}
		if said := strings.Join(again.Changed, "; "); said != "line 1, "+r.shops+": notes was changed" {
			t.Errorf("changed since: %q", said)
		}
	})
}

var _ = []any{exec.Command, evidence.Plate, fault.Of}
