package page_test

import (
	"testing"
	"time"

	"pawl/model"
	"pawl/model/register"
)

// counted is a bay with three tools in two places and one that Tech B has.
func counted(t *testing.T) (b *bay, cart, box, out string) {
	b = openBay(t)
	ctx, by := b.Context(), model.By{Actor: computer}
	for _, path := range []string{"Bay 1/Cart", "Bay 2/Box"} {
		if _, err := b.shop.AddPlace(ctx, by, path); err != nil {
			t.Fatal(err)
		}
	}
	in := func(kind, place string, pieces ...register.Piece) string {
		in := register.New{Change: register.Change{Kind: &kind, Place: &place}}
		if all := register.Pieces(pieces); len(all) > 0 {
			in.Pieces = &all
		}
		done, err := b.shop.Register(ctx, by, in)
		if err != nil {
			t.Fatal(err)
		}
		return string(done.Number)
	}
	cart = in("socket set", "Bay 1/Cart", register.Piece{Name: "10 mm socket", Count: 1})
	box, out = in("jack", "Bay 2/Box"), in("caliper", "Bay 1/Cart")
	if _, err := b.shop.Take(ctx, model.By{Actor: b.techB.actor}, out, model.Take{}); err != nil {
		t.Fatal(err)
	}
	return b, cart, box, out
}

// dashed is a number as people read it.
func dashed(number string) string { return number[:3] + "-" + number[3:] }

// scans types a code into the page of a count.
func (s shown) scans(code string) shown { return s.press("Seen", "code="+code) }

// TestACountOnAPhone starts, scans, pauses, settles and closes a count by its pages,
// without a script.
func TestACountOnAPhone(t *testing.T) {
	b, cart, box, out := counted(t)
	b.techA.open("/counts").with(200).says("Nothing was counted yet.").without("Start a count")
	b.techA.open("/counts/start").with(403)
	page := b.boss.open("/counts/start").with(200).press("Start a count", "over=everything", "how=full").with(200).
		says("The count has started. Listed: 3; to look for: 3", "Everything", "UNDER WAY", "Still to look for3 of 3", "out to Tech B")
	path := page.path

	b.techA.open(path).scans("hello").with(422).says("hello")
	b.techA.open(path).scans("HTTPS://ELSEWHERE.EXAMPLE/T/"+cart).with(422).says("elsewhere.example", "nothing was counted")
	b.techA.open(path).press("Seen").with(422).says("scan or type the number of a tool")
	place := ""
	places, err := b.shop.Places(t.Context(), model.By{Actor: computer})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range places {
		if p.Path == "Bay 1/Cart" {
			place = p.Code
		}
	}
	here := b.techA.open(path).scans("P/"+place).with(200).says("You are at Bay 1/Cart. What you scan next is seen there.", "You are at: Bay 1/Cart")
	here = here.scans(dashed(cart)).with(200).says("SEEN: "+dashed(cart)+" socket set", "It is a set", "You are at: Bay 1/Cart", "Still to look for2 of 3")
	here.scans("T/" + cart).with(200).says("SEEN ALREADY: " + dashed(cart) + " socket set, by Tech A")
	here.scans(dashed(box)).with(200).says("SEEN IN ANOTHER PLACE: "+dashed(box)+" jack", "belongs in Bay 2/Box")
	b.techA.open(path).with(200).says("expected: out to Tech B").without("I have " + dashed(out))
	b.techB.open(path).press("I have "+dashed(out), "number="+cart).with(403) // a tool that they do not have
	b.techB.open(path).with(200).press("I have "+dashed(out)).with(200).says("WITH SOMEBODY WHO SAYS SO: "+dashed(out), "Still to look for0 of 3")

	b.techA.open(path).press("Pause").with(200).says("PAUSED", "days later too").without("Number under the code")
	b.techA.open(path).press("Go on").with(200).says("UNDER WAY")
	b.techA.open(path + "/close").with(403)
	b.boss.open(path+"/close").with(200).says("Differences not settled: 1.", "They stay on the report as not settled.")
	list := b.boss.open(path+"/tools").with(200).says("Seen in another place", "seen by Tech A")
	settle := b.boss.open(list.link("Settle " + dashed(box))).with(200).without("Searched for, and not found")
	settle.press("Settle it").with(422).says("Say how it was settled")
	settle.press("Settle it", "how=record mended", "at=Bay 1/Cart").with(200).says("is settled.", "Settled: record mended, Bay 1/Cart")
	b.boss.open(path + "/settle/" + box).with(200).says("Nothing is to be settled of " + dashed(box))
	b.boss.open(path + "/settle/" + cart).with(404)
	b.techA.open(path + "/tools?which=extra").with(200).says("None.")
	b.techA.open(path + "/tools?which=bogus").with(422).says("bogus")

	b.boss.open(path+"/close").press("Close it for good").with(200).says("The count is closed.", "CLOSED", "What this count shows", "Listed tools only: 3 tools were on the list",
		"0 of 3 are missing").without("Number under the code", "Pause")
	b.boss.open(path + "/close").with(200).says("CLOSED")
	b.techA.open("/counts").with(200).says("CLOSED", "Everything, in full", "3 of 3 listed tools to look for")
	b.techA.open("/counts/N-00000000").with(404)
}

// TestASampleByItsPages: what a sample must find is typed in percent; a seed is drawn,
// and shown.
func TestASampleByItsPages(t *testing.T) {
	b, _, _, _ := counted(t)
	sample := func(missing, confidence string) shown {
		return b.boss.open("/counts/start").press("Start a count", "over=place", "place=Bay 1", "how=sample", "missing="+missing, "confidence="+confidence)
	}
	sample("x", "95").with(422).says("is not a number of tools")
	sample("1", "195").with(422).says("is not a percentage")
	sample("1", "95").with(200).says("Bay 1 and what is in it", "a sample", "How the sample was drawn", "Seed", "Checkpoint").without("CHOSEN")
	sample("1", "99.9 %").with(200).says("DRAWN AGAIN")
	b.boss.open("/counts/start").press("Start a count", "over=person", "person=Tech B", "how=full").with(200).says("What belongs to Tech B, and what they have", "caliper")
	b.boss.open("/counts/start").press("Start a count", "over=kind", "kind=jack", "how=units", "tolerable=lots").with(422)
}

// TestUnreadableLabelAndPieces: a tool is known by its serial number, and a set is not
// complete.
func TestUnreadableLabelAndPieces(t *testing.T) {
	b, cart, _, _ := counted(t)
	kind, serial := "impact wrench", "KD408-B217"
	if _, err := b.shop.Register(t.Context(), model.By{Actor: computer}, register.New{Change: register.Change{Kind: &kind, Serial: &serial}, SerialAgain: serial}); err != nil {
		t.Fatal(err)
	}
	path := b.boss.open("/counts/start").press("Start a count", "over=everything", "how=full").with(200).path
	b.techA.open(path).press("Seen", "serial=kd408 b217").with(200).says("SEEN:", "impact wrench", "Its label could not be read")
	b.techA.open(path).press("Seen", "serial=KD408-B2").with(404).says("no tool here has it as its serial number")
	b.techA.open(path).press("Seen", "code="+dashed(cart), "pieces=10 mm socket", "condition=case cracked").with(200).says("Not complete1")
	b.techA.open(path+"/tools").with(200).says("Missing of it: 10 mm socket (1)", "case cracked")
}

func TestTheRotatingPlanOnItsPage(t *testing.T) {
	b, _, _, _ := counted(t)
	b.techA.open("/counts/plan").with(200).says("every tool is seen within 90 days")
	b.techA.open("/counts/plan?within=1").with(200).says("every tool is seen within 1 days", "Nothing is left to look at today.")
	b.techA.open("/counts/plan?within=0").with(422).says("is not a number of days")
}

func TestRefusalsOfACountInSpanish(t *testing.T) {
	b, _, _, _ := counted(t)
	path := b.boss.open("/counts/start").press("Start a count", "over=everything", "how=full").with(200).path
	b.techA.lang = "es"
	b.techA.open(path).with(200).says("EN CURSO")
	b.techA.open(path).press("Seen").with(422).says("escanee o escriba el número")
}

// A look that waited on a phone is judged by the shop's clock, whatever that of the phone
// says: slow, a look at the beginning of a count is not before it, and fast it is not now.
func TestALookByAPhonesClock(t *testing.T) {
	for name, off := range map[string]time.Duration{"right": 0, "five minutes slow": -5 * time.Minute, "hours slow": -7 * time.Hour, "an hour fast": time.Hour} {
		t.Run(name, func(t *testing.T) {
			b, cart, _, _ := counted(t)
			path := b.boss.open("/counts/start").press("Start a count", "over=everything", "how=full").with(200).path
			at := func(d time.Duration) string { return b.shop.Now().Add(d + off).UTC().Format(time.RFC3339Nano) }
			made := b.shop.Now()
			happened := made.Add(off).UTC().Format(time.RFC3339Nano)
			b.techA.open(path).press("Seen", "code="+dashed(cart), "happened="+happened, "sent="+at(0)).with(200).says("SEEN:")
			rows, _, err := b.shop.CountTools(t.Context(), model.By{Actor: computer}, path[len("/counts/"):], model.CountToolsQuery{Which: "seen"})
			if err != nil || len(rows) != 1 {
				t.Fatalf("%+v, %v", rows, err)
			}
			if seen := rows[0].Seen.At.Time(); seen.Sub(made).Abs() > b.shop.Now().Sub(made) {
				t.Errorf("seen %s, and it was %s", seen, made)
			}
		})
	}
	b, cart, _, _ := counted(t)
	path := b.boss.open("/counts/start").press("Start a count", "over=everything", "how=full").with(200).path
	b.techA.open(path).press("Seen", "code="+dashed(cart), "happened=2026-11-25T09:00:20Z", "sent=noon").with(422).says("noon")
}
