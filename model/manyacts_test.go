package model

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/markings"
	"pawl/model/register"
	"pawl/model/worth"
)

// life is a long run of acts over a shop. What is done next, and to what, comes from
// chance and from what was answered before: two shops that answer alike do alike.
type life struct {
	*garage
	rng                                   *rand.Rand
	tools, wrenches, jobs, wronged        []string
	counts, losses, claims, tokens, jacks []string
	said                                  strings.Builder
	stood                                 map[string]int // acts that stood, by their verb
	done                                  int            // of all of them
}

// deed is one sort of act, and how often it is tried beside the others.
type deed struct {
	verb  string
	often int
	do    func(*life) (any, error)
}

func pick[T any](l *life, from ...T) (out T) {
	if len(from) == 0 {
		return out
	}
	return from[l.rng.IntN(len(from))]
}

func (l *life) hand() By      { return pick(l, l.manager, l.techA, l.techB) }
func (l *life) name() string  { return pick(l, "Tech A", "Tech B", "Manager M") }
func (l *life) tool() string  { return pick(l, l.tools...) }
func (l *life) count() string { return pick(l, l.counts[max(0, len(l.counts)-2):]...) } // one of the last two
func (l *life) place() string { return pick(l, "Cart", "Bay 1", "Bay 2/Box ½", "Drawer ﬀ") }

// keep keeps the id of what was made.
func keep[T any](to *[]string, v T, err error, id string) (any, error) {
	if err == nil {
		*to = append(*to, id)
	}
	return v, err
}

func (l *life) register(kind string, to *[]string) (any, error) {
	serial := fmt.Sprintf("KX%05d", 1000+len(l.tools)*7+len(l.wrenches)*13+len(l.jacks)*31)
	in := register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Serial: &serial, Maker: ptr(pick(l, "Brindle", "Tarn", "Ashdøwn")), Place: ptr(l.place()),
		Marking: &register.MarkingEntry{Method: pick(l, "printed", "engraved")}}}
	if l.rng.IntN(2) == 0 {
		in.Price, in.Bought, in.Owner = ptr(fmt.Sprintf("%d.50", 40+l.rng.IntN(900))), ptr("2026-01-15"), ptr(pick(l, "shop", "Tech A", "Tech B"))
	}
	if l.rng.IntN(3) == 0 {
		in.Pieces = &register.Pieces{{Name: "case", Count: 1}, {Name: "10 mm socket", Count: 2}}
	}
	d, err := l.Register(ctx, l.boss, in)
	return keep(to, d, err, d.Number.String())
}

// custodial are acts on where a tool is.
var custodial = []deed{
	{"take", 12, func(l *life) (any, error) {
		return answer(l.Take(ctx, l.boss, l.tool(), Take{To: l.name(), Job: pick(l, append(l.jobs, "")...), Due: pick(l, "", "2027-12-31")}))
	}},
	{"return", 9, func(l *life) (any, error) {
		return answer(l.Return(ctx, l.hand(), l.tool(), Return{Condition: pick(l, "", "oily é", "a\nb <&>")}))
	}},
	{"handover", 5, func(l *life) (any, error) {
		return answer(l.Handover(ctx, l.boss, l.tool(), Handover{To: l.name()}))
	}},
	{"away", 2, func(l *life) (any, error) {
		return answer(l.Away(ctx, l.boss, l.tool(), Away{To: "Lab 1", For: "repair"}))
	}},
	{"back", 2, func(l *life) (any, error) { return answer(l.Back(ctx, l.boss, l.tool(), Back{Condition: "mended"})) }},
	{"wrong", 2, func(l *life) (any, error) {
		n := l.tool()
		d, err := l.Wrong(ctx, l.hand(), n, Wrong{What: pick(l, "dropped", "damaged"), Note: "Kanal №2"})
		return keep(&l.wronged, d, err, n)
	}},
	{"clear", 3, func(l *life) (any, error) {
		return answer(l.Clear(ctx, l.manager, pick(l, l.wronged...), Clear{Why: "looked at"}))
	}},
	{"gone", 1, func(l *life) (any, error) {
		return answer(l.Gone(ctx, l.boss, l.tool(), Gone{Why: pick(l, "sold", "scrapped", "lost")}))
	}},
	{"swap", 1, func(l *life) (any, error) {
		serial := fmt.Sprint("SW", l.done)
		v, err := l.Swap(ctx, l.boss, l.tool(), Swap{Serial: serial, SerialAgain: serial})
		return keep(&l.tools, v, err, v.New.Number.String())
	}},
	{"job open", 3, func(l *life) (any, error) {
		j, err := l.OpenJob(ctx, l.hand(), NewJob{Number: fmt.Sprint("RO-", 1000+l.done), Vehicle: ptr("green van"), Safety: ptr(pick(l, "yes", "no", "unknown"))})
		return keep(&l.jobs, j, err, j.Number)
	}},
	{"job hold", 1, func(l *life) (any, error) { return answer(l.Hold(ctx, l.techA, pick(l, l.jobs...), "wheel-lock key")) }},
	{"job look", 1, func(l *life) (any, error) {
		return answer(l.LookAtJob(ctx, l.techA, pick(l, l.jobs...), LookedAtJob{Before: "engine"}))
	}},
	{"job close", 2, func(l *life) (any, error) {
		return answer(l.CloseJob(ctx, l.manager, pick(l, l.jobs...), CloseJob{Override: pick(l, "", "the customer is waiting")}))
	}},
}

// known are acts on what is known of a tool.
var known = []deed{
	{"register", 5, func(l *life) (any, error) {
		return l.register(pick(l, "ratchet", "impact wrench"), &l.tools)
	}},
	{"register a jack", 2, func(l *life) (any, error) { return l.register("jack", &l.jacks) }},
	{"edit", 4, func(l *life) (any, error) {
		return answer(l.ChangeTool(ctx, l.boss, l.tool(), AnyRevision, register.Change{Notes: ptr(fmt.Sprint("note ", l.done)), Place: ptr(l.place())}))
	}},
	{"evidence add", 2, func(l *life) (any, error) {
		return answer(l.Attach(ctx, l.boss, l.tool(), attachOf(pick(l, "whole", "plate", "receipt"), hashOf(picture(byte(1+l.rng.IntN(8)))))))
	}},
	{"marking check", 6, func(l *life) (any, error) {
		return answer(l.Mark(ctx, l.boss, l.tool(), markings.Entry{Grade: ptr(int64(l.rng.IntN(5)))}))
	}},
	{"marking protect", 2, func(l *life) (any, error) {
		return answer(l.Mark(ctx, l.boss, l.tool(), markings.Entry{Protection: pick(l, "clear film", "lacquer", "none")}))
	}},
	{"marking owner's", 1, func(l *life) (any, error) {
		return answer(l.Mark(ctx, l.boss, l.tool(), markings.Entry{OwnersNumber: fmt.Sprint("GL-", l.done), Method: "engraved"}))
	}},
	{"requirement", 2, func(l *life) (any, error) {
		if v, err := l.register("torque wrench", &l.wrenches); err != nil {
			return v, err
		}
		return answer(l.Calibrate(ctx, l.boss, l.wrenches[len(l.wrenches)-1], Calibrate{Requirement: &Requirement{Preset: "torque-wrench-setting", Range: "40..200", Unit: "N·m", Graduation: "1", Directions: "cw"}}))
	}},
	{"calibrate", 4, func(l *life) (any, error) {
		return answer(l.Calibrate(ctx, l.boss, pick(l, l.wrenches...), Calibrate{By: "Own words", CertificateNumber: fmt.Sprint("C-", l.done), On: l.today(), Direction: "cw", Uncertainty: "0.6%",
			AsLeft: pick(l, "40=40.0,120=120.1,200=200.1", "40=40.4,120=110.0,200=185.2")}))
	}},
	{"tighten", 4, func(l *life) (any, error) {
		return answer(l.Tighten(ctx, l.techA, pick(l, l.wrenches...), Use{Ask: Ask{Target: "108 N·m", Limits: pick(l, "", "100..116"), Direction: "cw"}, Job: pick(l, append(l.jobs, "1042")...), Name: "wheel nuts", Count: 5}))
	}},
	{"inspect", 2, func(l *life) (any, error) {
		return answer(l.Inspect(ctx, l.manager, pick(l, l.jacks...), Inspect{Check: "jack six-month", Result: pick(l, "pass", "fail"), By: "Own words"}))
	}},
	{"inspection plan", 1, func(l *life) (any, error) {
		return answer(l.Inspect(ctx, l.manager, pick(l, l.jacks...), Inspect{Check: "jack six-month", Plan: &InspectionPlan{Months: ptr(3 + l.rng.IntN(3)), Why: ptr("it stands outside")}}))
	}},
	{"worth quote", 3, func(l *life) (any, error) {
		return answer(l.AddQuote(ctx, l.manager, l.tool(), worth.NewQuote{Amount: fmt.Sprintf("%d.00", 100+l.rng.IntN(500)), Source: "Corner tools", Date: "2026-10-29", Basis: pick(l, "", "market")}))
	}},
	{"worth condition", 1, func(l *life) (any, error) {
		return answer(l.Judge(ctx, l.manager, l.tool(), worth.NewCondition{Share: "0.1", Reason: "worn anvil"}))
	}},
	{"worth policy", 1, func(l *life) (any, error) {
		return answer(l.AddPolicy(ctx, l.manager, NewPolicy{NewPolicy: worth.NewPolicy{Name: fmt.Sprint("Contents ", l.done), Limit: "18000", Deductible: "250", Basis: "rcv"}}))
	}},
	{"worth life", 1, func(l *life) (any, error) {
		return answer(l.SetLife(ctx, l.manager, worth.NewLife{Kind: pick(l, "ratchet", "jack"), Months: fmt.Sprint(60 + l.rng.IntN(60)), Floor: "0.10"}))
	}},
}

// wide are acts on many tools, or on none.
var wide = []deed{
	{"count start", 1, func(l *life) (any, error) {
		in := StartCount{Scope: pick(l, "", "place:Bay 1")}
		if l.rng.IntN(2) == 0 {
			in = StartCount{How: "sample", MissingAtLeast: 2, Seed: ptr(int64(l.rng.IntN(1000)))}
		}
		v, err := l.StartCount(ctx, l.boss, in)
		return keep(&l.counts, v, err, v.ID)
	}},
	{"count scan", 9, func(l *life) (any, error) {
		return answer(l.ScanCount(ctx, l.hand(), l.count(), ScanCount{Scanned: l.tool(), At: l.place()}))
	}},
	{"count confirm", 2, func(l *life) (any, error) {
		return answer(l.ConfirmCount(ctx, l.hand(), l.count(), ConfirmCount{Number: l.tool()}))
	}},
	{"count pause", 1, func(l *life) (any, error) { return answer(l.PauseCount(ctx, l.boss, l.count())) }},
	{"count resume", 2, func(l *life) (any, error) { return answer(l.ResumeCount(ctx, l.boss, l.count())) }},
	{"count settle", 2, func(l *life) (any, error) {
		return answer(l.SettleDifference(ctx, l.manager, l.count(), SettleDifference{Number: l.tool(), How: pick(l, "found", "record mended"), At: l.place()}))
	}},
	{"count close", 1, func(l *life) (any, error) { return answer(l.CloseCount(ctx, l.boss, l.count())) }},
	{"loss start", 1, func(l *life) (any, error) {
		v, err := l.StartLoss(ctx, l.manager, StartLoss{Kind: pick(l, "theft", "mislaid"), Found: l.today() + "T06:00", Where: "van", Tools: []string{l.tool()}})
		return keep(&l.losses, v, err, v.ID)
	}},
	{"loss add", 1, func(l *life) (any, error) {
		return answer(l.AddToLoss(ctx, l.manager, pick(l, l.losses...), LossTools{Numbers: []string{l.tool()}}))
	}},
	{"loss confirm", 1, func(l *life) (any, error) {
		return answer(l.ConfirmLoss(ctx, l.manager, pick(l, l.losses...), LossTools{}))
	}},
	{"loss police", 1, func(l *life) (any, error) {
		return answer(l.ReportLoss(ctx, l.manager, pick(l, l.losses...), PoliceReport{Agency: ptr("County sheriff"), Report: ptr(fmt.Sprint("26-", l.done))}))
	}},
	{"claim open", 1, func(l *life) (any, error) {
		v, err := l.OpenClaim(ctx, l.manager, NewClaim{Kind: pick(l, "insurance", "ownership"), Loss: pick(l, append(l.losses, "")...), Number: pick(l, l.tool(), "")})
		return keep(&l.claims, v, err, v.ID)
	}},
	{"claim fact", 2, func(l *life) (any, error) {
		return answer(l.AddFact(ctx, l.manager, pick(l, l.claims...), NewFact{On: l.today(), What: "adjuster came", Amount: pick(l, "", "12.00")}))
	}},
	{"people add", 1, func(l *life) (any, error) {
		return answer(l.AddPerson(ctx, l.boss, NewPerson{Name: fmt.Sprint("Tech Ø", l.done), Role: "technician"}))
	}},
	{"places add", 1, func(l *life) (any, error) {
		return answer(l.AddPlace(ctx, l.boss, fmt.Sprintf("Bay 2/Box ½/Drawer %d", l.done)))
	}},
	{"token add", 1, func(l *life) (any, error) {
		v, err := l.AddToken(ctx, l.boss, NewToken{Name: fmt.Sprint("scale ", l.done), Role: "technician", For: l.name()})
		v.Secret = "" // shown once
		return keep(&l.tokens, v, err, v.ID)
	}},
	{"token revoke", 1, func(l *life) (any, error) { return answer(l.RevokeToken(ctx, l.boss, pick(l, l.tokens...))) }},
	{"issue numbers", 1, func(l *life) (any, error) { return answer(l.IssueNumbers(ctx, l.boss, 2)) }},
	{"chores", 2, func(l *life) (any, error) { return answer(l.Chores(ctx, l.boss)) }},
}

func (l *life) today() string { return l.clock.Now().Add(-6 * time.Hour).Format(time.DateOnly) }

// lived lets so many acts stand, and keeps what each was answered, refusals too.
func lived(t *testing.T, engine string, acts int) *life {
	t.Helper()
	l := &life{garage: openGarage(t, engine), rng: rand.New(rand.NewPCG(500, 7)), stood: map[string]int{}}
	for shade := range byte(8) {
		l.upload(t, l.boss, picture(1+shade))
	}
	if _, err := l.AddPlace(ctx, l.boss, "Bay 2/Box ½/Drawer ﬀ"); err != nil {
		t.Fatal(err)
	}
	all := slices.Concat(custodial, known, wide)
	var urn []deed
	for _, d := range all {
		urn = append(urn, slices.Repeat([]deed{d}, d.often)...)
	}
	for tries := 0; l.done < acts; tries++ {
		if tries > 8*acts+200 {
			t.Fatalf("only %d acts of %d tries stood", l.done, tries)
		}
		d := urn[l.rng.IntN(len(urn))]
		if rare := all[l.rng.IntN(len(all))]; l.stood[rare.verb] == 0 {
			d = rare // every act has its turn
		}
		if len(l.tools) < 12 {
			d = known[0]
		}
		v, err := d.do(l)
		if err == nil {
			l.done, l.stood[d.verb] = l.done+1, l.stood[d.verb]+1
		}
		fmt.Fprintf(&l.said, "%s: %s %v\n", d.verb, asJSON(t, v), err)
		l.clock.advance(17*time.Minute + 1234567*time.Microsecond)
	}
	for _, d := range all {
		if l.stood[d.verb] == 0 && acts >= 500 {
			t.Errorf("%s: none of %d tries stood", d.verb, strings.Count(l.said.String(), d.verb+": "))
		}
	}
	return l
}

// handedOut gives what leaves the shop: the sum of every list and paper that is no
// photo, and the unsigned part of a checkpoint, whose signature is each shop's own.
func (l *life) handedOut(t *testing.T) string {
	t.Helper()
	var out strings.Builder
	say := func(what string, data []byte, err error) {
		fmt.Fprintf(&out, "%s: %d bytes, %x %v\n", what, len(data), sha256.Sum256(data), err)
	}
	for _, format := range []string{"csv", "xlsx", "json"} {
		var b bytes.Buffer
		err := l.Export(ctx, l.boss, &b, ExportOptions{Format: format})
		say("export as "+format, b.Bytes(), err)
	}
	for _, id := range l.counts {
		var b bytes.Buffer
		err := l.CountCSV(ctx, l.boss, id, &b)
		say("count "+id, b.Bytes(), err)
	}
	for _, id := range l.claims {
		var b bytes.Buffer
		err := l.ClaimPaper(ctx, l.manager, id, &b)
		say("claim "+id, b.Bytes(), err)
	}
	var worths, round bytes.Buffer
	err := l.WorthCSV(ctx, l.boss, &worths)
	say("worth", worths.Bytes(), err)
	err = l.WriteRound(ctx, l.boss, &round)
	say("round", round.Bytes(), err)
	for _, n := range append(slices.Clone(l.tools), l.wrenches...) {
		v, err := l.Tool(ctx, l.boss, n)
		say("tool "+n, []byte(asJSON(t, v)), err)
		lines, next, err := l.History(ctx, l.boss, n, 200, "")
		say("history "+n+next, []byte(asJSON(t, lines)), err)
	}
	point, err := l.Checkpoint(ctx, l.boss)
	unsigned, _, _ := strings.Cut(point.Note, "\n\n")
	fmt.Fprintf(&out, "checkpoint: %s %v\n", strings.ReplaceAll(unsigned, "\n", " "), err)
	return out.String()
}

// Five hundred acts of every sort, in an order that chance makes, leave the same bytes on
// both engines: leaves, roots, answers, refusals, and all that is handed out.
func TestFiveHundredActsKeepTheSameBytes(t *testing.T) {
	acts := pawlSize(150, 500, 500)
	var ledgers, answers, out [2]string
	for i, engine := range []string{"sqlite", "postgres"} {
		l := lived(t, engine, acts)
		ledgers[i], answers[i], out[i] = l.ledgerBytes(t), l.said.String(), l.handedOut(t)
	}
	wantSame(t, "an answer", answers)
	wantSame(t, "the ledger", ledgers)
	wantSame(t, "what is handed out", out)
	t.Logf("%d acts of %d sorts stood and %d were refused; %d lines", acts, len(custodial)+len(known)+len(wide), strings.Count(answers[0], "\n")-acts, strings.Count(ledgers[0], `"noun":"`))
}
