package model

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"io/fs"
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
	"pawl/model/needs"
	"pawl/model/packets"
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
		t.Fatal(err, errors.Unwrap(err))
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

// saysFingerprint is whether whoever verifies a packet is told that fingerprint.
func saysFingerprint(v Verified, fingerprint string) bool {
	return slices.ContainsFunc(v.Said, func(said string) bool { return strings.HasPrefix(said, "Fingerprint "+fingerprint+":") })
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
		write(t, to, raw)
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
		c, err := verifyBytes(first, PacketQuery{})
		if err != nil || len(c.Problems) > 0 || !saysFingerprint(c, v.Fingerprint) || c.Originals != 2 || c.Withheld == 0 {
			t.Fatalf("%v %q, files %d, withheld %d, %q", err, c.Problems, c.Originals, c.Withheld, c.Said)
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

// Anybody can check the bag with what everybody has, and a reader of our own that shares
// no code with the writer agrees (RFC 8493 section 3).
func TestAnnexIsAValidBag(t *testing.T) {
	g := openGarage(t, "sqlite")
	v := g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim})
	dir := unzipped(t, g.annexOf(t, v))
	if problems := plainBag(dir); len(problems) > 0 {
		t.Errorf("%q", problems)
	}
	program := needs.Program(t, "sha256sum")
	for _, manifest := range []string{"manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		check := exec.Command(program, "--strict", "-c", manifest)
		check.Dir = dir
		if said, err := check.CombinedOutput(); err != nil {
			t.Errorf("%s: %s", manifest, said)
		}
	}
	write(t, filepath.Join(dir, "data", "more.txt"), []byte("more"))
	if problems := plainBag(dir); len(problems) != 1 {
		t.Errorf("an extra file: %q", problems)
	}
	if err := os.Remove(filepath.Join(dir, "data", "statement.json")); err != nil {
		t.Fatal(err)
	}
	if problems := plainBag(dir); len(problems) != 2 {
		t.Errorf("a missing file: %q", problems)
	}
}

// plainBag checks a folder by the words of RFC 8493 alone.
func plainBag(dir string) (problems []string) {
	listed := map[string]string{}
	for _, m := range []string{"manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		text, err := os.ReadFile(filepath.Join(dir, m))
		if err != nil {
			return []string{err.Error()}
		}
		for line := range strings.Lines(string(text)) {
			sum, path, found := strings.Cut(strings.TrimSuffix(line, "\n"), "  ")
			if !found || listed[path] != "" || strings.HasPrefix(path, "data/") != strings.HasPrefix(m, "manifest") {
				problems = append(problems, m+" is not a manifest: "+line)
			}
			listed[path] = sum
		}
	}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		raw, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if name != "tagmanifest-sha256.txt" && listed[name] != hashOf(raw) {
			problems = append(problems, name+" is not as listed")
		}
		delete(listed, name)
		return nil
	})
	if err != nil {
		problems = append(problems, err.Error())
	}
	for path := range listed {
		problems = append(problems, path+" is not there")
	}
	return problems
}

func write(t *testing.T, path string, raw []byte) {
	t.Helper()
	if err := os.WriteFile(path, raw, 0o600); err != nil {
		t.Fatal(err)
	}
}

// Police and insurer read the same of one line, or it is refused; lines that came since are
// a supplement.
func TestTheSameWording(t *testing.T) {
	g := openGarage(t, "sqlite")
	r := rob(t, g, true)
	g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
	g.clock.advance(time.Hour)
	more, now := g.tool(t), dates.InstantOf(g.clock.Now())
	put(t, g, &claims.LossLine{ID: "Y-3", Loss: r.loss, Tool: g.id(t, more), Line: 3, Supplement: 2, Confirmed: now})
	if v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim}); v.Supplement != 2 || len(v.Statement.Lines) != 3 || !v.Statement.Lines[2].AfterLoss {
		t.Errorf("%+v", v.Statement.Lines)
	}
	if _, err := g.ChangeTool(ctx, g.manager, r.shops, AnyRevision, register.Change{Model: ptr("NW-3")}); err != nil {
		t.Fatal(err)
	}
	_, err := g.BuildPacket(ctx, g.manager, NewPacket{Claim: r.claim})
	wantFault(t, err, fault.Refused, "would not read as on the papers that were given out", "line", "1")
	if v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim, Reworded: true}); v.Statement.Lines[0].Model != "NW-3" {
		t.Errorf("%+v", v.Statement.Lines[0])
	}
}

// A packet is asked for again under its key, and is not built twice.
func TestAPacketIsBuiltOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		in := NewPacket{Claim: rob(t, g, true).claim, Add: []string{"acv"}}
		by := g.manager
		by.Key = "packet-1"
		first := g.packetOf(t, by, in)
		if again := g.packetOf(t, by, in); again.ID != first.ID || again.Fingerprint != first.Fingerprint || len(again.Left) != len(first.Left) {
			t.Errorf("%s and %s", first.ID, again.ID)
		}
		if all, err := g.Packets(ctx, g.manager, in.Claim); err != nil || len(all) != 1 {
			t.Errorf("%d packets, %v", len(all), err)
		}
		in.Add = nil
		_, err := g.BuildPacket(ctx, by, in)
		wantFault(t, err, fault.Invalid, "")
		if _, err := g.BuildPacket(ctx, g.techB, in); !fault.Is(err, fault.NotFound) {
			t.Errorf("a technician builds the shop's: %v", err)
		}
	})
}

// Where the original is altered or gone, no annex that is another comes out.
func TestAnAlteredOriginalSpoilsTheAnnex(t *testing.T) {
	g := openGarage(t, "sqlite")
	r := rob(t, g, true)
	v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
	f, err := g.PacketFile(ctx, g.manager, v.ID, AnnexFile, 0)
	if err != nil {
		t.Fatal(err)
	}
	g.damaged = true
	if err := g.originals.Remove(v.Statement.Lines[0].Files[0].SHA256); err != nil {
		t.Fatal(err)
	}
	wantFault(t, f.Write(ctx, io.Discard), fault.Refused, "its original is not here any more")
	if err := g.originals.Remove(v.Packet.Statement); err != nil {
		t.Fatal(err)
	}
	_, err = g.Packet(ctx, g.manager, v.ID, false)
	wantFault(t, err, fault.Refused, "the statement of packet")
}

// A viewer is let in for one claim until a day: they see its packets and files, and those of
// no other, and nothing is built or kept by them.
func TestAViewerSeesOneClaim(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		put(t, g, &claims.Claim{ID: "C-OTHER", Kind: claims.Insurance, Loss: r.loss, Opened: 1})
		v, other := g.packetOf(t, g.manager, NewPacket{Claim: r.claim}), g.packetOf(t, g.manager, NewPacket{Claim: "C-OTHER"})
		own := g.packetOf(t, g.manager, NewPacket{Ownership: r.shops})
		_, err := g.EnrollViewer(ctx, g.boss, "Adjuster", "2026-12-01", "C-NONE")
		wantFault(t, err, fault.NotFound, "there is no claim")
		e, err := g.EnrollViewer(ctx, g.boss, "Adjuster", "2026-12-01", r.claim)
		if err != nil {
			t.Fatal(err)
		}
		in, err := g.Enter(ctx, Entry{Secret: e.Secret, Device: "tablet"}, "192.0.2.1")
		if err != nil {
			t.Fatal(err)
		}
		a, err := g.Session(ctx, in.Secret)
		if err != nil || a.Claim != r.claim {
			t.Fatalf("%+v %v", a, err)
		}
		adjuster := By{Actor: a}
		if seen, err := g.Packet(ctx, adjuster, v.ID, false); err != nil || seen.Fingerprint != v.Fingerprint {
			t.Errorf("%v", err)
		}
		if all, err := g.Packets(ctx, adjuster, r.claim); err != nil || len(all) != 1 {
			t.Errorf("%d packets, %v", len(all), err)
		}
		var out bytes.Buffer
		f, err := g.PacketFile(ctx, adjuster, v.ID, AnnexFile, 0)
		if err == nil {
			err = f.Write(ctx, &out)
		}
		if err != nil || !bytes.Equal(out.Bytes(), g.annexOf(t, v)) {
			t.Errorf("its annex: %v", err)
		}
		for what, try := range map[string]func() error{
			"another claim's packet":  func() error { _, err := g.Packet(ctx, adjuster, other.ID, false); return err },
			"another claim's packets": func() error { _, err := g.Packets(ctx, adjuster, "C-OTHER"); return err },
			"a tool's packet":         func() error { _, err := g.PacketFile(ctx, adjuster, own.ID, AnnexFile, 0); return err },
			"a packet of their own":   func() error { _, err := g.BuildPacket(ctx, adjuster, NewPacket{Claim: r.claim}); return err },
			"what changed":            func() error { _, err := g.Packet(ctx, adjuster, v.ID, true); return err },
			"whose a tool is":         func() error { _, err := g.BuildPacket(ctx, adjuster, NewPacket{Ownership: r.shops}); return err },
			"the copy kept elsewhere": func() error { _, err := g.KeepElsewhere(ctx, adjuster, packets.Had{}); return err },
		} {
			if err := try(); !fault.Is(err, fault.NotFound) && !fault.Is(err, fault.Forbidden) {
				t.Errorf("a viewer has %s: %v", what, err)
			}
		}
		g.clock.advance(60 * 24 * time.Hour)
		if _, err := g.Session(ctx, in.Secret); !fault.Is(err, fault.Unauthenticated) {
			t.Errorf("after the day: %v", err)
		}
	})
}

// The place that a photo carries stays here unless it is added on purpose, and so does the
// line that tells it; who has the original can still open that line.
func TestThePlaceOfAPhotoStaysHere(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t)
	raw := make([]byte, 4000)
	photoOf(raw)
	copy(raw[6:], "GPS-HOME")
	const spot = "29.301300, -94.797700"
	row := evidence.Record{ID: "E-1", Tool: g.id(t, n), Kind: evidence.Plate, MediaType: evidence.TypeJPEG, Bytes: int64(len(raw)), SHA256: hashOf(raw), ClaimedPlace: spot, ReceivedAt: 1}
	heic := row
	heic.ID, heic.MediaType, heic.SHA256, heic.Kind = "E-2", evidence.TypeHEIC, hashOf([]byte("heic")), evidence.Whole
	heic.Bytes = 4
	for _, b := range [][]byte{raw, []byte("heic")} {
		if _, _, err := g.originals.Put(ctx, hashOf(b), bytes.NewReader(b), evidence.MaxBytes); err != nil {
			t.Fatal(err)
		}
	}
	put(t, g, &row, &heic)
	for _, c := range []struct {
		add   []string
		told  bool
		files int64
	}{{nil, false, 1}, {[]string{"originals"}, true, 2}} {
		v := g.packetOf(t, g.manager, NewPacket{Ownership: n, Add: c.add})
		zipped := g.annexOf(t, v)
		a, err := verifyBytes(zipped, PacketQuery{})
		if err != nil || len(a.Problems) > 0 || a.Originals != c.files {
			t.Fatalf("%v %q, %d files", err, a.Problems, a.Originals)
		}
		for _, e := range entries(t, zipped) {
			if told := bytes.Contains(e.raw, []byte("GPS-HOME")) || bytes.Contains(e.raw, []byte(spot)); told && !c.told {
				t.Errorf("%s tells the place", e.name)
			}
		}
		if why := v.Statement.Lines[0].Files[0].WhyNot; !strings.Contains(why, "cannot be drawn") {
			t.Errorf("a photo that is none: %q", why)
		}
		if c.told != (len(v.Left) == 0) || v.Statement.Lines[0].Files[0].Copy == c.told {
			t.Errorf("left out %+v, %+v", v.Left, v.Statement.Lines[0].Files)
		}
	}
}
