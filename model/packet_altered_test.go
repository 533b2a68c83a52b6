package model

import (
	"archive/zip"
	"bytes"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"pawl/model/bag"
	"pawl/model/evidence"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// entry is one file of a ZIP.
type entry struct {
	name string
	raw  []byte
}

func entries(t *testing.T, zipped []byte) (out []entry) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		raw, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, entry{f.Name, raw})
	}
	return out
}

func rezipped(t *testing.T, all []entry) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, e := range all {
		w, err := z.Create(e.name)
		if err == nil {
			_, err = w.Write(e.raw)
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

// problemsOf says what is found in an annex; one that cannot be looked at is a finding too.
func problemsOf(zipped []byte, key string) string {
	b, err := bag.Open(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		return err.Error()
	}
	c, err := packets.Check(b, proofs.Outside{Key: key})
	if err != nil {
		// What cannot be read is named by the bag itself.
		r, _ := b.Check()
		return err.Error() + "\n" + strings.Join(r.Problems, "\n")
	}
	return strings.Join(c.Problems, "\n")
}

// A byte that was altered anywhere is found, and the file is named: 500 places over all
// files of the annex. So is one that was added, taken out, or exchanged with another.
func TestWhateverIsAlteredIsNamed(t *testing.T) {
	g := openGarage(t, "sqlite")
	zipped := g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim}))
	all := entries(t, zipped)
	key := ""
	for _, e := range all {
		if strings.HasSuffix(e.name, "proof/key.txt") {
			key = strings.TrimSpace(string(e.raw))
		}
	}
	if said := problemsOf(rezipped(t, all), key); said != "" {
		t.Fatalf("as it was: %s", said)
	}
	draw := rand.New(rand.NewPCG(7, 500))
	for i := range 500 {
		at := i % len(all)
		if len(all[at].raw) == 0 {
			continue
		}
		changed := append([]entry{}, all...)
		raw := bytes.Clone(all[at].raw)
		raw[draw.IntN(len(raw))] ^= 1 << draw.IntN(8)
		changed[at].raw = raw
		_, name, _ := strings.Cut(all[at].name, "/")
		if said := problemsOf(rezipped(t, changed), key); !strings.Contains(said, name) {
			t.Errorf("a byte of %s was altered: %q", name, said)
		}
	}
	for i, e := range all {
		_, name, _ := strings.Cut(e.name, "/")
		if said := problemsOf(rezipped(t, append(append([]entry{}, all[:i]...), all[i+1:]...)), key); !strings.Contains(said, name) {
			t.Errorf("%s was taken out: %q", name, said)
		}
		other := all[(i+1)%len(all)]
		swapped := append([]entry{}, all...)
		swapped[i].raw, swapped[(i+1)%len(all)].raw = other.raw, e.raw
		if said := problemsOf(rezipped(t, swapped), key); said == "" {
			t.Errorf("%s was exchanged for %s, and nothing is said", name, other.name)
		}
	}
	folder, _, _ := strings.Cut(all[0].name, "/")
	for _, extra := range []string{"data/photos/P00009-plate.jpg", "proof/MORE.txt", "more.txt"} {
		if said := problemsOf(rezipped(t, append(all[:len(all):len(all)], entry{folder + "/" + extra, []byte("more")})), key); !strings.Contains(said, extra) {
			t.Errorf("%s was added: %q", extra, said)
		}
	}
}

// A statement that says otherwise than its own lines is found, though every hash of its bag
// was reckoned anew: its money, the words of the loss and of its list, and the loss's papers.
func TestAStatementIsHeldToItsLines(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		g.keep(t, evidence.Record{ID: "E-POLICE", Loss: r.loss, Kind: evidence.Police, MediaType: evidence.TypePDF, ReceivedAt: 5}, []byte("%PDF-1.4 report"))
		all := entries(t, g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: r.claim})))
		if said := problemsOf(rezipped(t, all), ""); said != "" {
			t.Fatalf("as it was: %s", said)
		}
		for _, c := range []struct{ was, is, problem string }{
			{`"price": 41237`, `"price": 91237`, `line 1 says of the tool's price "91237"`},
			{`"seller": "Harbor counter"`, `"seller": "Hidden counter"`, `line 1 says of the tool's seller "Hidden counter"`},
			{`"notes": "red grip"`, `"notes": "rod grip"`, `line 1 says of the tool's notes "rod grip"`},
			{`"replacement": 41237`, `"replacement": 91237`, `line 1 says of the replacement cost's price "91237"`},
			{`"cost_of": "price paid"`, `"cost_of": "quoted new"`, `line 1: nothing shows the quote of 41237`},
			{`"where": "side door forced"`, `"where": "side door locked"`, `the statement says of the loss's spot "side door locked"`},
			{`"left_behind": "its case"`, `"left_behind": "its coat"`, `line 1 says of the loss line's left_behind "its coat"`},
			{`"kind": "police"`, `"kind": "damage"`, `kind "damage"`},
		} {
			if said := problemsOf(rezipped(t, restated(t, all, c.was, c.is)), ""); !strings.Contains(said, c.problem) {
				t.Errorf("%s: %q", c.is, said)
			}
		}
	})
}

// restated is an annex whose statement was altered, to as many bytes, and whose manifests
// were written anew.
func restated(t *testing.T, all []entry, was, is string) []entry {
	t.Helper()
	out := append([]entry{}, all...)
	exchange := func(name, was, is string) (before, after string) {
		for i, e := range out {
			if strings.HasSuffix(e.name, "/"+name) {
				if len(was) != len(is) || !bytes.Contains(e.raw, []byte(was)) {
					t.Fatalf("%q is not in %s, or no other as long", was, name)
				}
				out[i].raw = bytes.Replace(e.raw, []byte(was), []byte(is), 1)
				return hashOf(e.raw), hashOf(out[i].raw)
			}
		}
		t.Fatalf("there is no %s", name)
		return "", ""
	}
	before, after := exchange("data/statement.json", was, is)
	before, after = exchange("manifest-sha256.txt", before, after)
	exchange("tagmanifest-sha256.txt", before, after)
	return out
}
