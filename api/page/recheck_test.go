package page_test

import (
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"pawl/model"
)

// foundOut is a wrench with work on two jobs, that a laboratory then found failing; it
// was reported dropped the same day.
func (b *bay) foundOut() string {
	b.Helper()
	tool := b.certified()
	number, by := strings.TrimPrefix(tool, "/t/"), model.By{Actor: computer}
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	tighten := func(job, fastener, target, limits string) {
		_, err := b.shop.Tighten(b.Context(), by, number, model.Use{Ask: model.Ask{Target: target, Limits: limits}, Job: job, Name: fastener, Count: 5})
		must(err)
	}
	tighten("1042", "front wheel nuts", "108 N·m", "100..116")
	tighten("1042", "rear wheel nuts", "120 N·m", "118..122")
	tighten("1044", "axle bracket", "180 N·m", "150..210")
	_, err := b.shop.Take(b.Context(), by, number, model.Take{To: "Tech A", Job: "1043"})
	must(err)
	_, err = b.shop.Return(b.Context(), by, number, model.Return{})
	must(err)
	_, err = b.shop.Calibrate(b.Context(), by, number, model.Calibrate{By: "Own words", On: "2026-11-25", Uncertainty: "1.0%", Direction: "cw", AsFound: "40=40.4,120=110.0,200=185.2"})
	must(err)
	return tool
}

// Nothing found it out: that is said, and never that the work is good.
func TestRecheckPageOfAToolThatNothingFoundOut(t *testing.T) {
	b := openBay(t)
	b.techA.open(b.certified()+"/recheck").says("Work in doubt", "Nothing on record puts work with it in doubt. That does not show that the work is good").
		without("Worst first", "Save the list", "WITHIN")
	b.techA.open("/t/00EKM5/recheck").with(404)
}

// What is not known stands first; then why; then the lines, worst first, each with what
// settles it.
func TestRecheckPage(t *testing.T) {
	b := openBay(t)
	tool := b.foundOut()
	page := b.techA.open(tool+"/recheck").says("Not known: 3 tightenings recorded on 2 jobs; taken to 1 more job with none recorded in that time: what it did there is NOT KNOWN",
		"found it failing", "both included", "Worst first", "OUTSIDE", "rear wheel nuts (5)", "118..122 N·m", "NOT SURE", "front wheel nuts (5)",
		"Job 1043: nothing recorded", "nothing says what it was used for in that time", "WITHIN", "Job 1044: axle bracket (5)", "Save the list to print", "Save it as a spreadsheet (CSV)")
	inOrder(t, text(page.Node), "Not known:", "found it failing", "OUTSIDE", "rear wheel nuts", "front wheel nuts", "1043", "axle bracket")
	if n := strings.Count(text(page.Node), "A click on a fastener that is already tight does not show its torque"); n != 1 {
		t.Errorf("the click is said %d times", n)
	}
	settle := page.all("a", func(n *html.Node) bool { return strings.HasPrefix(nodeAttr(n, "href"), tool+"/recheck/") })
	if len(settle) != 3 {
		t.Errorf("%d lines can be settled, want 3: what is within needs none", len(settle))
	}
	b.techA.open("/today").says("Work in doubt, not settled", "to settle: 3")
	b.techA.open(tool).says("25 Nov 2026 (hour not recorded)").without("00:00")
}

// The cautions beside the list are whole, so that a reader of Spanish has each of them.
func TestRecheckPageInSpanish(t *testing.T) {
	b := openBay(t)
	tool := b.foundOut()
	b.techA.lang = "es"
	b.techA.open(tool+"/recheck").says("Un clic en un tornillo que ya está apretado no muestra su par", "Tire despacio y parejo", "lo dice el fabricante del vehículo",
		"En duda desde", "Lo peor primero", "Orden 1042",
		"No se sabe: aprietes registrados: 3; mediciones: 0; en órdenes: 2; órdenes a las que se llevó sin nada registrado en ese tiempo: 1; lo que hizo allí NO SE SABE",
		"la calibración del 25 nov 2026 la halló fuera de límites: clockwise, set 120", "estuvo fuera, y nada dice para qué se usó en ese tiempo").
		without("recorded on", "NOT KNOWN", "Save ", "found it failing", "nothing says", "is not on this list", "it may have been").
		without("A click on a fastener", "Pull slowly and steadily", "Whether a fastener", "both days included", "both included", "Worst first")
	b.techA.open(tool).says("Trabajo en duda: 3 por resolver")
	b.techA.open(b.certified() + "/recheck").says("Nada de lo registrado pone en duda el trabajo hecho con ella. Eso no demuestra que esté bien").without("Nothing on record")
}

// What was done after the drop is on the list, and the end of what was before it is told
// by the minute.
func TestRecheckPageTellsWhatWasDoneOutOfUse(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	number, by := strings.TrimPrefix(tool, "/t/"), model.By{Actor: computer}
	if _, err := b.shop.Wrong(t.Context(), by, number, model.Wrong{What: "dropped"}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.shop.Tighten(t.Context(), by, number, model.Use{Ask: model.Ask{Target: "108 N·m", Limits: "100..116"}, Job: "7", Name: "front wheel nuts, after the drop", Count: 5}); err != nil {
		t.Fatal(err)
	}
	page := b.techA.open(tool+"/recheck").says("front wheel nuts, after the drop", "done after it was taken out of use (dropped on 25 Nov 2026)", "both included", "and it goes on")
	page.without("both days included")
}

func inOrder(t *testing.T, all string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		_, after, found := strings.Cut(all, part)
		if !found {
			t.Errorf("%q does not come next in %q", part, all)
			return
		}
		all = after
	}
}

// Two reports of one time are told together, in one paragraph.
func TestRecheckPageTellsOneTimeOnce(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	for _, what := range []string{"dropped", "overloaded"} {
		if _, err := b.shop.Wrong(t.Context(), model.By{Actor: computer}, strings.TrimPrefix(tool, "/t/"), model.Wrong{What: what, Happened: "2026-11-24T10:00"}); err != nil {
			t.Fatal(err)
		}
	}
	got := text(b.techA.open(tool + "/recheck").Node)
	if n := strings.Count(got, "In doubt from"); n != 1 || !regexp.MustCompile(`it was reported (dropped|overloaded) on 24 Nov 2026; it was reported (dropped|overloaded) on 24 Nov 2026\.`).MatchString(got) {
		t.Errorf("%d times in doubt: %s", n, got)
	}
}

// A line is settled by what was done; a click is refused and what was typed stays. It is
// settled once, and the others stay open.
func TestSettlePage(t *testing.T) {
	b := openBay(t)
	tool, good := b.foundOut(), b.certified()
	list := b.techA.open(tool + "/recheck")
	line := nodeAttr(list.all("a", func(n *html.Node) bool { return strings.HasPrefix(nodeAttr(n, "href"), tool+"/recheck/") })[0], "href")
	other := b.techB.open(line)
	page := b.techA.open(line).says("Settle work in doubt", "rear wheel nuts", "proves nothing")
	page.press("Settle it", "done=loosened and tightened again").with(422).says("Say how it was settled").keeps("done=loosened and tightened again")
	page.press("Settle it", "how=checked", "done=it clicked at 120").with(422).says("does not show its torque").keeps("done=it clicked at 120")
	page.press("Settle it", "how=loosened and tightened again", "done=as the service information says", "tool=00E-KM6").with(422).keeps("tool=00E-KM6")
	done := page.press("Settle it", "how=loosened and tightened again", "done=98 N·m, as the service information says", "tool="+strings.TrimPrefix(good, "/t/")).
		says("is settled. Still to settle: 2", "You wrote 98 N·m; the line is for 120 N·m", "Settled: loosened and tightened again: 98 N·m")
	if left := done.all("a", func(n *html.Node) bool { return strings.HasPrefix(nodeAttr(n, "href"), tool+"/recheck/") }); len(left) != 2 {
		t.Errorf("%d lines are left", len(left))
	}
	b.techB.open(line).says("needs no settling")
	other.press("Settle it", "how=fastener replaced", "done=bolts replaced").with(409).says("is settled already: loosened and tightened again, by Tech A on 2026-11-25")
	b.techA.open(tool + "/recheck/U-00000000").with(404).says("is not on this list")
}
