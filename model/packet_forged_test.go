package model

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/markings"
	"pawl/model/packets"
	"pawl/model/proofs"
	"pawl/model/register"
)

// forgery is an annex as somebody has it before them who may write all of it anew but
// the signature.
type forgery struct {
	t     *testing.T
	files map[string][]byte // by path in the bag
	claims.Statement
}

func forge(t *testing.T, zipped []byte) *forgery {
	t.Helper()
	f := &forgery{t: t, files: map[string][]byte{}}
	for _, e := range entries(t, zipped) {
		_, path, _ := strings.Cut(e.name, "/")
		f.files[path] = e.raw
	}
	var err error
	f.Statement, err = packets.Parse(string(f.files["data/statement.json"]))
	must(t, err)
	return f
}

// withhold takes out what the ledger says of the records of a noun, and leaves the lines.
func (f *forgery) withhold(noun, id string) {
	f.t.Helper()
	var out bytes.Buffer
	taken := 0
	for row := range bytes.Lines(f.files["proof/lines.jsonl"]) {
		var e proofs.Entry
		must(f.t, json.Unmarshal(row, &e))
		if strings.Contains(e.Line, `"id":"`+id+`","noun":"`+noun+`"`) {
			e.Salt, e.After, taken = "", "", taken+1
		}
		raw, err := json.Marshal(e)
		must(f.t, err)
		out.Write(append(raw, '\n'))
	}
	if taken == 0 {
		f.t.Fatalf("no line is about %s %s", noun, id)
	}
	f.files["proof/lines.jsonl"] = out.Bytes()
}

// plate is the photo of a serial plate on one of its lines.
func (f *forgery) plate(line int) *claims.File {
	files := f.Lines[line].Files
	return &files[slices.IndexFunc(files, func(x claims.File) bool { return x.Kind == "plate" })]
}

// sealed is the annex with every list of it written anew.
func (f *forgery) sealed() []byte {
	f.t.Helper()
	raw, err := json.Marshal(f.Statement)
	must(f.t, err)
	f.files["data/statement.json"] = raw
	var all []entry
	files, size := 0, 0
	for path, raw := range f.files {
		all = append(all, entry{"b/" + path, raw})
		if strings.HasPrefix(path, "data/") {
			files, size = files+1, size+len(raw)
		}
	}
	info, _, _ := strings.Cut(string(f.files["bag-info.txt"]), "Payload-Oxum")
	at := slices.IndexFunc(all, func(e entry) bool { return e.name == "b/bag-info.txt" })
	all[at].raw = fmt.Appendf(nil, "%sPayload-Oxum: %d.%d\n", info, size, files)
	// The order of a bag: payload, then tag files, its own lists last.
	slices.SortFunc(all, func(a, b entry) int { return strings.Compare(rank(a.name)+a.name, rank(b.name)+b.name) })
	return stripped(f.t, rezipped(f.t, all), func(string) bool { return false })
}

func rank(name string) string {
	switch {
	case strings.HasPrefix(name, "b/data/"):
		return "1"
	case name == "b/tagmanifest-sha256.txt":
		return "3"
	}
	return "2"
}

// Whoever has an annex can write its statement and its lists anew, take photos out and put
// others in, and take out what the ledger says of whatever would show it. Each of that is
// found: what is withheld without the reason that a packet has for it shows nothing.
func TestAForgedStatementIsFound(t *testing.T) {
	g := openGarage(t, "sqlite")
	r := rob(t, g, true)
	g.attachPlate(t, r.techs, 31)
	put(t, g, &markings.Marking{ID: "M-OWN", Tool: g.id(t, r.shops), Shows: markings.OwnersNumber, Code: "GLG0471", Spot: "handle", Since: dates.InstantOf(g.clock.Now())})
	zipped := g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: r.claim}))
	for name, c := range map[string]struct {
		edit func(*forgery)
		want string // empty: nothing is wrong
	}{
		"as it was": {func(*forgery) {}, ""},
		"a serial number, its record taken out": {func(f *forgery) {
			f.Lines[0].Serial, f.Lines[0].SerialKey = "NW9999X", "NW9999X"
			f.withhold("tool", f.Lines[0].Tool)
		}, "is withheld, though its owner shares it"},
		"a serial number, its money hidden too": {func(f *forgery) {
			f.Lines[0].Serial, f.Lines[0].SerialKey, f.Lines[0].Money, f.Lines[0].Replacement = "NW9999X", "NW9999X", false, nil
			f.withhold("tool", f.Lines[0].Tool)
		}, "line 1 tells the price of its tool"},
		"another photo, its record taken out": {func(f *forgery) {
			p := f.plate(0)
			f.files[p.Path] = picture(99)
			p.SHA256 = hashOf(picture(99))
			f.withhold("evidence", p.Record)
		}, "nothing shows that it is the photo or paper that was received"},
		"another photo, said to be a copy": {func(f *forgery) {
			p := f.plate(0)
			f.files[p.Path], p.Copy = picture(99), true
		}, "and the ledger says that it carries none"},
		"the photo of one tool for that of another": {func(f *forgery) {
			delete(f.files, f.ThumbPath(*f.plate(1)))
			delete(f.files, f.plate(1).Path)
			f.plate(1).Path = f.plate(0).Path
		}, "is not the original with the SHA-256"},
		"what happened, its record taken out": {func(f *forgery) {
			f.Loss.Spot = "front door forced"
			f.withhold("loss", f.Loss.ID)
		}, "nothing shows what the statement says of the loss"},
		"the serial number that registers search": {func(f *forgery) { f.Lines[0].SerialKey = "NW4471D" }, `is searched as "NW4471B"`},
		"an owner's number":                       {func(f *forgery) { f.Lines[0].OwnersNo = "GLG0472" }, `says that the owner's number is "GLG0472"`},
		"no owner's number":                       {func(f *forgery) { f.Lines[0].OwnersNo, f.Lines[0].OwnersNoAt = "", "" }, `says that the owner's number is ""`},
		"a number of another tool":                {func(f *forgery) { f.Lines[0].Numbers = append(f.Lines[0].Numbers, f.Lines[1].Number) }, "nothing shows that"},
		"recorded after the loss":                 {func(f *forgery) { f.Lines[0].AfterLoss = true }, "recorded after the loss"},
	} {
		t.Run(name, func(t *testing.T) {
			f := forge(t, zipped)
			c.edit(f)
			if said := problemsOf(f.sealed(), ""); c.want == "" && said != "" || !strings.Contains(said, c.want) {
				t.Errorf("%q, want %q", said, c.want)
			}
		})
	}
	// What the owner does not share is withheld for a reason; so it is said what it shows.
	v, err := verifyBytes(zipped, PacketQuery{})
	must(t, err)
	if said := strings.Join(v.Said, "\n"); !strings.Contains(said, "Line 2, number "+r.techs+": what the ledger says of this tool is withheld") || strings.Contains(said, "Line 1,") {
		t.Errorf("%s", said)
	}
}

// The page that is read first says what the statement says, or it is told that it does not.
func TestAForgedPageIsTold(t *testing.T) {
	g := openGarage(t, "sqlite")
	zipped := g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim}))
	told := func(zipped []byte) bool {
		t.Helper()
		v, err := verifyBytes(zipped, PacketQuery{})
		if err != nil || len(v.Problems) > 0 {
			t.Fatalf("%q, %v", v.Problems, err)
		}
		return strings.Contains(strings.Join(v.Said, "\n"), "NOT SHOWN: "+packets.ReadMeFile)
	}
	if told(zipped) {
		t.Error("the page is as it was drawn")
	}
	f := forge(t, zipped)
	f.files[packets.ReadMeFile] = bytes.ReplaceAll(f.files[packets.ReadMeFile], []byte("NW4471B"), []byte("NW9999X"))
	if !told(f.sealed()) {
		t.Error("another serial number stands on the page, and nothing is said")
	}
}

// attachPlate gives a tool a photo of its plate, by whoever keeps the shop.
func (g *garage) attachPlate(t *testing.T, number string, shade byte) {
	t.Helper()
	if _, err := g.Attach(ctx, g.manager, number, attachOf("plate", g.upload(t, g.manager, picture(shade)))); err != nil {
		t.Fatal(err)
	}
}

// A photo that came unsorted and was filed under a tool later is in the copy of its owner,
// and the copy holds.
func TestACopyWithAPhotoThatWasUnsorted(t *testing.T) {
	g := openGarage(t, "sqlite")
	number := g.tool(t, owned(g.techA))
	filed, err := g.FilePhotos(ctx, g.techA, register.Photos{Photos: attachOf("whole", g.upload(t, g.techA, picture(61)))})
	must(t, err)
	unsorted, _, err := g.Unsorted(ctx, g.techA, 0, "")
	if err != nil || len(unsorted) != 1 {
		t.Fatalf("%+v: %+v, %v", filed, unsorted, err)
	}
	if _, err := g.FileUnsorted(ctx, g.techA, unsorted[0].ID, register.FileUnder{Number: number, Kind: "whole"}); err != nil {
		t.Fatal(err)
	}
	copied, err := g.CopyOwn(ctx, g.techA, g.techA.Person)
	must(t, err)
	var out bytes.Buffer
	must(t, copied.Write(&out))
	if said := problemsOf(out.Bytes(), ""); said != "" {
		t.Error(said)
	}
	// So it is taken in elsewhere, and so do the proofs that are kept of it there.
	other := &garage{engine: "sqlite", clock: g.clock, boss: g.boss, Options: g.Options}
	other.Dir, other.Chance = t.TempDir(), rand.NewChaCha8([32]byte{9})
	other.Shop = other.open(t)
	done, err := other.ImportCopy(ctx, other.boss, ImportCopy{}, bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil || len(done.Tools) != 1 {
		t.Fatalf("%+v, %v", done, err)
	}
	v, err := other.Tool(ctx, other.boss, done.Tools[0].Number.String())
	must(t, err)
	proof := v.Evidence[slices.IndexFunc(v.Evidence, func(e evidence.Record) bool { return e.MediaType == evidence.TypeZIP })]
	f, _, err := other.originals.Open(proof.SHA256)
	must(t, err)
	defer f.Close()
	kept, err := io.ReadAll(f)
	must(t, err)
	if said := problemsOf(kept, ""); said != "" {
		t.Errorf("the proof that is kept: %s", said)
	}
}
