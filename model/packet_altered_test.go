package model

import (
	"archive/zip"
	"bytes"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"pawl/model/bag"
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
