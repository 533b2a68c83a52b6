package model

import (
	"archive/zip"
	"bytes"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/markings"
	"pawl/model/worth"
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

// problemsOf says what pawl verify finds in an annex; one that cannot be looked at is a
// finding too.
func problemsOf(zipped []byte, key string) string {
	v, err := verifyBytes(zipped, PacketQuery{Key: key})
	if err != nil {
		return err.Error()
	}
	return strings.Join(v.Problems, "\n")
}

// A byte that was altered anywhere is found, and the file is named: 500 places over all
// files of the annex. So is one that was added, taken out, or exchanged with another.
func TestWhateverIsAlteredIsNamed(t *testing.T) {
	g := openGarage(t, "sqlite")
	alterEverywhere(t, g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim})), problemsOf)
}

// The same where an authority has dated the packet and the older checkpoint in it. A time
// stamp may come later, so one that was taken out is no problem of the packet: it is told.
// Some bytes of an answer are signed by nobody, such as its status (RFC 3161 section 2.4.2);
// with those altered it must say the same as before, of the same authority.
func TestWhateverIsAlteredInADatedPacketIsNamed(t *testing.T) {
	g := openGarage(t, "sqlite")
	s, a, _ := dated(t, g)
	g.Shop = s
	if point, err := s.DatedCheckpoint(ctx, g.boss); err != nil || point.TimeStamp.Answer == nil {
		t.Fatalf("%+v %v", point, err)
	}
	zipped, stamps := g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim})), 0
	for _, e := range entries(t, zipped) {
		if strings.HasSuffix(e.name, ".tsr") {
			stamps++
		}
	}
	if stamps != 2 {
		t.Fatalf("%d time stamps are in it", stamps)
	}
	stampsOf := func(v Verified) (out []string) {
		for _, said := range v.Said {
			if strings.HasPrefix(said, "Time stamp") || strings.HasPrefix(said, "No time stamp") {
				out = append(out, said)
			}
		}
		return out
	}
	as, err := verifyBytes(zipped, PacketQuery{Roots: a.PEM(t)})
	must(t, err)
	if len(stampsOf(as)) != 2 {
		t.Fatalf("%q", as.Said)
	}
	alterEverywhere(t, zipped, func(zipped []byte, key string) string {
		v, err := verifyBytes(zipped, PacketQuery{Key: key, Roots: a.PEM(t)})
		if err != nil {
			return err.Error()
		}
		if len(v.Problems) == 0 && !slices.Equal(stampsOf(v), stampsOf(as)) {
			v.Problems = stampsOf(v)
		}
		return strings.Join(v.Problems, "\n")
	}, ".tsr")
}

// alterEverywhere alters, adds, takes out and exchanges; of a file that ends in partly a
// byte may be altered unfound.
func alterEverywhere(t *testing.T, zipped []byte, found func(zipped []byte, key string) string, partly ...string) {
	t.Helper()
	all, key := entries(t, zipped), ""
	for _, e := range all {
		if strings.HasSuffix(e.name, "proof/key.txt") {
			key = strings.TrimSpace(string(e.raw))
		}
	}
	if said := found(rezipped(t, all), key); said != "" {
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
		said := found(rezipped(t, changed), key)
		unsigned := said == "" && slices.ContainsFunc(partly, func(end string) bool { return strings.HasSuffix(name, end) })
		if !unsigned && !strings.Contains(said, name) {
			t.Errorf("a byte of %s was altered: %q", name, said)
		}
	}
	for i, e := range all {
		_, name, _ := strings.Cut(e.name, "/")
		if said := found(rezipped(t, append(append([]entry{}, all[:i]...), all[i+1:]...)), key); !strings.Contains(said, name) {
			t.Errorf("%s was taken out: %q", name, said)
		}
		other := all[(i+1)%len(all)]
		swapped := append([]entry{}, all...)
		swapped[i].raw, swapped[(i+1)%len(all)].raw = other.raw, e.raw
		if said := found(rezipped(t, swapped), key); said == "" {
			t.Errorf("%s was exchanged for %s, and nothing is said", name, other.name)
		}
	}
	folder, _, _ := strings.Cut(all[0].name, "/")
	for _, extra := range []string{"data/photos/P00009-plate.jpg", "proof/MORE.txt", "proof/NO-TIME-STAMP.txt", "proof/more.tsr", "proof/anchor.tsr", "proof/tagmanifest.tsr", "more.txt"} {
		if slices.ContainsFunc(all, func(e entry) bool { return e.name == folder+"/"+extra }) {
			continue
		}
		if said := found(rezipped(t, append(all[:len(all):len(all)], entry{folder + "/" + extra, []byte("more")})), key); !strings.Contains(said, extra) {
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
		for _, c := range []alteration{
			{`"price": 41237`, `"price": 91237`, `line 1 says of the tool's price "91237"`},
			{`"seller": "Harbor counter"`, `"seller": "Hidden counter"`, `line 1 says of the tool's seller "Hidden counter"`},
			{`"notes": "red grip"`, `"notes": "rod grip"`, `line 1 says of the tool's notes "rod grip"`},
			{`"replacement": 41237`, `"replacement": 91237`, `line 1 says of the replacement cost 91237 by price paid of "Harbor counter"`},
			{`"cost_of": "price paid"`, `"cost_of": "quoted new"`, `line 1 says of the replacement cost 41237 by quoted new of`},
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

// What a tool costs new, what a used one sells for and the grade of a plate photo are held
// to the lines that show them, whatever else is on record and withheld: a market value that
// goes along only where it was asked for, and a quote from the owner before.
func TestTheFiguresOfAStatementAreHeldToItsLines(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		id, now := g.id(t, r.shops), dates.InstantOf(g.clock.Now())
		v, err := g.Tool(ctx, g.manager, r.shops)
		must(t, err)
		plate := v.Evidence[slices.IndexFunc(v.Evidence, func(e evidence.Record) bool { return e.Kind == evidence.Plate })].ID
		put(t, g, &markings.Check{ID: "U-1", Tool: id, On: "2026-10-20", Grade: ptr(int64(4)), Evidence: plate, Entered: now}, &markings.Check{ID: "U-2", Tool: id, On: "2026-10-21", Grade: ptr(int64(1)), Evidence: plate, Entered: now})
		put(t, g, &worth.Quote{ID: "Q-1", Tool: id, Amount: ptr(int64(64_900)), Currency: "USD", Source: "dealer", Dated: "2026-10-01", Entered: now},
			&worth.Quote{ID: "Q-2", Tool: id, Amount: ptr(int64(39_900)), Currency: "USD", Source: "dealer", Dated: "2026-09-01", Entered: now})
		raised := alteration{`"replacement": 64900`, `"replacement": 94900`, `line 1 says of the replacement cost 94900 by quote of "dealer"`}
		graded := alteration{`"grade": 1`, `"grade": 4`, `grade 4 on "2026-10-21", and its lines in the ledger show grade 1`}
		holds := func(add []string, also ...alteration) {
			t.Helper()
			all := entries(t, g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: r.claim, Add: add})))
			if said := problemsOf(rezipped(t, all), ""); said != "" {
				t.Fatalf("as it was: %s", said)
			}
			for _, c := range append(also, raised, graded, alteration{`"cost_dated": "2026-10-01"`, `"cost_dated": "2026-10-02"`, `on "2026-10-02"`}) {
				if said := problemsOf(rezipped(t, restated(t, all, c.was, c.is)), ""); !strings.Contains(said, c.problem) {
					t.Errorf("%q, %s: %q", add, c.is, said)
				}
			}
		}
		holds(nil)
		used := func(q string, of string, amount int64) {
			put(t, g, &worth.Quote{ID: q, Tool: of, Amount: &amount, Currency: "USD", Source: "used ones", Dated: "2026-10-03", Of: worth.OfUsed, Entered: now})
		}
		used("Q-3", g.id(t, r.techs), 12_300)
		holds(nil)
		used("Q-4", id, 31_100)
		holds(nil)
		holds([]string{"market"}, alteration{`"market": 31100`, `"market": 64900`, `line 1 says of the market value 64900 by quote of "used ones"`},
			alteration{`"market_by": "used ones"`, `"market_by": "used once"`, `line 1 says of the market value 31100 by quote of "used once"`})
	})
}

// alteration is what is said otherwise in a statement, and what is found.
type alteration struct{ was, is, problem string }

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
