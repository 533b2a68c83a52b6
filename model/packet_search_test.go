package model

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/register"
	"pawl/model/worth"
)

// planted are markers in what a packet may not tell, by what they stand for.
type planted struct {
	t    *testing.T
	draw *rand.Rand
	all  map[string]string
	read pdfTexts
}

// pdfTexts is what programs read in a PDF, by the hash of its bytes: the same page is in
// many packets.
type pdfTexts map[[sha256.Size]byte]map[string][]byte

func (read pdfTexts) of(t *testing.T, raw []byte) map[string][]byte {
	t.Helper()
	sum := sha256.Sum256(raw)
	if out, ok := read[sum]; ok {
		return out
	}
	out := map[string][]byte{}
	path := filepath.Join(t.TempDir(), "x.pdf")
	write(t, path, raw)
	for _, how := range [][]string{{"qpdf", "--qdf", "--object-streams=disable", path, "-"}, {"pdftotext", path, "-"}} {
		if program, err := exec.LookPath(how[0]); err == nil {
			if said, err := exec.Command(program, how[1:]...).Output(); err == nil || len(said) > 0 {
				out[how[0]] = said
			}
		} else if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed", how[0])
		}
	}
	read[sum] = out
	return out
}

// word plants a word that occurs nowhere else.
func (p *planted) word(what string) string {
	w := "Q"
	for range 9 {
		w += string(rune('A' + p.draw.IntN(26)))
	}
	w += "Z"
	p.all[w] = what
	return w
}

// amount plants an amount whose digits occur nowhere else, as text and in minor units.
func (p *planted) amount(what string) string {
	whole, cents := 1000000+p.draw.IntN(8000000), 11+p.draw.IntN(88)
	p.all[fmt.Sprintf("%d%02d", whole, cents)] = what
	p.all[fmt.Sprintf("%d.%02d", whole, cents)] = what
	return fmt.Sprintf("%d.%02d", whole, cents)
}

// paper is a PDF with a marker in it.
func (p *planted) paper(g *garage, by By, what string) register.Attach {
	text := "%PDF-1.4\n% " + p.word(what+", in its bytes") + "\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"
	sha := g.upload(p.t, by, []byte(text))
	p.all[sha] = what + ", its hash"
	return register.Attach{Kind: "receipt", SHA256: sha, Name: p.word(what+", its name") + ".pdf"}
}

// everyFile gives every file of a packet as bytes in which text can be looked for.
func everyFile(t *testing.T, g *garage, v PacketView, read pdfTexts) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	files, err := g.PacketFiles(ctx, v, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		var raw bytes.Buffer
		if err := f.Write(ctx, &raw); err != nil {
			t.Fatal(err)
		}
		openedFile(t, out, f.Name, raw.Bytes(), read)
	}
	return out
}

// openedFile unpacks what is packed, and draws the text out of a PDF.
func openedFile(t *testing.T, out map[string][]byte, name string, raw []byte, read pdfTexts) {
	t.Helper()
	out[name] = raw
	switch filepath.Ext(name) {
	case ".zip", ".xlsx":
		for _, e := range entries(t, raw) {
			openedFile(t, out, name+"/"+e.name, e.raw, read)
		}
	case ".pdf":
		for by, said := range read.of(t, raw) {
			out[name+" by "+by] = said
		}
	}
}

// Nothing that is off by default, and nothing that another does not share, is in any file
// of any packet: searched byte by byte over generated shops.
func TestNothingElseIsInAPacket(t *testing.T) {
	for seed := range pawlSize(3, 8, 1000) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			searchOne(t, uint64(seed))
		})
	}
}

func searchOne(t *testing.T, seed uint64) {
	g := openGarage(t, "sqlite")
	p := &planted{t: t, draw: rand.New(rand.NewPCG(seed, 77)), all: map[string]string{}, read: pdfTexts{}}
	yes := func() bool { return p.draw.IntN(2) == 1 }
	shares, employees := yes(), yes()
	if shares {
		if _, err := g.ChangePerson(ctx, g.techA, g.techA.Person, AnyRevision, PersonChange{Shares: ptr(true)}); err != nil {
			t.Fatal(err)
		}
	}
	job := p.word("the number of a job")
	if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: job, Vehicle: ptr(p.word("a vehicle")), Safety: ptr("yes")}); err != nil {
		t.Fatal(err)
	}
	var numbers []string
	for range 1 + p.draw.IntN(3) {
		numbers = append(numbers, p.shops(g, job, yes()))
	}
	said := "what Tech A does not share"
	if shares {
		said = "what no policy covers"
	}
	if shares && employees {
		// What they share with the shop that claims may be told; of it nothing is planted.
		numbers = append(numbers, g.tool(t, owned(g.techA)))
	} else {
		numbers = append(numbers, p.theirs(g, g.techA, said, employees))
	}
	numbers = append(numbers, p.theirs(g, g.techB, "what Tech B does not share", employees))
	policy, err := g.AddPolicy(ctx, g.boss, NewPolicy{NewPolicy: worth.NewPolicy{Name: "Shop contents", Limit: p.amount("the limit of the policy"),
		Deductible: p.amount("the deductible"), OtherCovered: p.amount("what else is covered"), Basis: "rcv", Employees: employees}})
	if err != nil {
		t.Fatal(err)
	}
	g.clock.advance(time.Hour)
	now := dates.InstantOf(g.clock.Now())
	put(t, g, &claims.Loss{ID: "L-1", Kind: claims.Theft, Found: now, Started: now})
	for i, n := range numbers {
		put(t, g, &claims.LossLine{ID: fmt.Sprint("Y-", i), Loss: "L-1", Tool: g.id(t, n), Line: int64(i + 1), Supplement: 1})
	}
	put(t, g, &claims.Claim{ID: "C-1", Kind: claims.Insurance, Loss: "L-1", Policy: policy.ID, Opened: now})
	p.theirs(g, g.techB, "a tool that is on no list", false)
	asked := []NewPacket{{Claim: "C-1"}, {Claim: "C-1", Add: []string{"acv", "market value", "rechecks"}}, {Ownership: numbers[0]}}
	for _, in := range asked {
		for _, by := range []By{g.boss, g.manager} {
			p.search(g, g.packetOf(t, by, in))
		}
	}
	kept := map[string][]byte{}
	openedFile(t, kept, "elsewhere.zip", g.keptElsewhere(t, g.manager), p.read)
	p.lookIn(kept, func(what string) bool {
		return strings.HasPrefix(what, "what Tech") || strings.HasPrefix(what, "the limit") || strings.HasPrefix(what, "a vehicle") || strings.HasPrefix(what, "the number of a job")
	})
}

// shops is a tool of the shop's with all around it that a packet does not tell.
func (p *planted) shops(g *garage, job string, wasTheirs bool) string {
	p.t.Helper()
	owner := func(in *register.New) { in.Price, in.Seller = ptr("412.37"), ptr("Harbor counter") }
	if wasTheirs {
		owner = func(in *register.New) {
			in.Owner, in.Price, in.Seller = ptr(g.techB.Name), ptr(p.amount("what Tech B paid before it was the shop's")), ptr(p.word("of whom Tech B bought it"))
		}
	}
	n := g.tool(p.t, owner, kind("jack"))
	if wasTheirs {
		if _, err := g.Attach(ctx, g.techB, n, []register.Attach{p.paper(g, g.techB, "what Tech B kept of when it was theirs")}); err != nil {
			p.t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.boss, n, AnyRevision, register.Change{Owner: ptr("shop"), Price: ptr("99.00"), Seller: ptr("Tech B")}); err != nil {
			p.t.Fatal(err)
		}
	}
	for _, act := range []func() (Done, error){
		func() (Done, error) { return g.Take(ctx, g.techA, n, Take{Job: job}) },
		func() (Done, error) { return g.Return(ctx, g.techA, n, Return{}) },
		func() (Done, error) {
			return g.Wrong(ctx, g.techA, n, Wrong{What: "damaged", Note: p.word("what was wrong with it")})
		},
	} {
		if _, err := act(); err != nil {
			p.t.Fatal(err)
		}
	}
	return n
}

// theirs is a tool of a person who shares nothing; what it is may be told only where a
// policy covers it.
func (p *planted) theirs(g *garage, by By, what string, covered bool) string {
	p.t.Helper()
	in := register.New{Change: register.Change{Kind: ptr("jack"), Owner: ptr(by.Name), Price: ptr(p.amount(what + ": its price")), Tax: ptr(p.amount(what + ": its tax")),
		Seller: ptr(p.word(what + ": its seller")), Owed: ptr(p.amount(what + ": owed on it")), OwedTo: ptr(p.word(what + ": owed to")), Terms: ptr("on account")},
		Evidence: []register.Attach{p.paper(g, by, what+": a paper")}}
	if !covered {
		in.Notes = ptr(p.word(what + ": a note"))
	}
	done, err := g.Register(ctx, by, in)
	if err != nil {
		p.t.Fatal(err)
	}
	return done.Number.String()
}

func (p *planted) search(g *garage, v PacketView) {
	p.t.Helper()
	p.lookIn(everyFile(p.t, g, v, p.read), func(string) bool { return true })
	for _, l := range v.Statement.Lines {
		if l.OwnerID != "" && l.Money && !slices.Contains([]string{g.techA.Person}, l.OwnerID) {
			p.t.Errorf("money of %s is shown", l.Owner)
		}
	}
}

func (p *planted) lookIn(files map[string][]byte, matters func(what string) bool) {
	p.t.Helper()
	for name, raw := range files {
		for marker, what := range p.all {
			if matters(what) && bytes.Contains(raw, []byte(marker)) {
				p.t.Errorf("%s tells %s: %s", name, what, marker)
			}
		}
	}
}

// The search finds what is there, or it would prove nothing: with jobs and customers added
// on purpose, they are told.
func TestTheSearchFinds(t *testing.T) {
	g := openGarage(t, "sqlite")
	p := &planted{t: t, draw: rand.New(rand.NewPCG(1, 78)), all: map[string]string{}, read: pdfTexts{}}
	job, car := p.word("the number of a job"), p.word("a vehicle")
	if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: job, Vehicle: ptr(car), Safety: ptr("yes")}); err != nil {
		t.Fatal(err)
	}
	n := p.shops(g, job, false)
	found := func(in NewPacket, marker string) (told bool) {
		for _, raw := range everyFile(t, g, g.packetOf(t, g.boss, in), p.read) {
			told = told || bytes.Contains(raw, []byte(marker))
		}
		return told
	}
	for _, c := range []struct {
		add       []string
		job, cars bool
	}{{nil, false, false}, {[]string{"jobs"}, true, false}, {[]string{"customers"}, false, false}, {[]string{"jobs", "customers"}, true, true}} {
		in := NewPacket{Ownership: n, Add: c.add}
		if found(in, job) != c.job || found(in, car) != c.cars {
			t.Errorf("with %q: job told %v, vehicle told %v", c.add, found(in, job), found(in, car))
		}
	}
}
