package page_test

import (
	"io"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"pawl/api/page/words"
	"pawl/labels/chart"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/register"
)

// certified registers a torque wrench of 40 to 200 N·m that a laboratory found good
// clockwise, and gives the path of its page.
func (b *bay) certified(place ...string) string {
	b.Helper()
	tool := b.tool("torque wrench")
	b.found(tool, "40=40.0,40.1,40.0,39.9,40.0,120=120.1,120.0,119.9,120.0,120.1,200=200.1,199.9,200.0,200.1,200.0")
	return tool
}

func (b *bay) found(tool, asLeft string) {
	b.Helper()
	_, err := b.shop.Calibrate(b.Context(), model.By{Actor: computer}, strings.TrimPrefix(tool, "/t/"), model.Calibrate{
		Requirement: &model.Requirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "40..200", Graduation: "1", GripToDrive: "400mm", SecondScale: "ft-lb 30..150 by 1"},
		By:          "Own words", CertificateNumber: "C-118", On: "2026-11-20", Direction: "cw", Uncertainty: "0.6%", AsLeft: asLeft,
	})
	if err != nil {
		b.Fatal(err)
	}
}

// Every answer says in words what it is, and why; what is not known is never a yes.
func TestReadyAnswers(t *testing.T) {
	b := openBay(t)
	good, unknown, dropped := b.certified(), b.tool("torque wrench"), b.certified()
	b.techB.open(dropped).press("Dropped")
	ask := func(tool string, typed ...string) shown {
		return b.techA.open(tool+"/ready").press("Ask", typed...)
	}
	ask(good, "target=108", "low=100", "high=116").says("Can I use it for 108 N·m?", "YES For this tool only.", "Set it to 108 N·m", "Clockwise.",
		"Tool calibration of 20 Nov 2026, next due 20 Nov 2027", "It does not confirm value, sequence, lubrication or fastener. Ask again after a drop.",
		"Computed today 09:", "an answer of this minute", "100..116 N·m", "of 100 times; a yes needs 97.5", "It is in its place.", "service information governs").
		without("CANNOT CONFIRM", "I tightened with it all the same")
	ask(good, "target=80", "unit=ft-lb").says("Can I use it for 80 ft-lb?", "YES", "Set it to 80 ft-lb", "you gave no limits").without("a yes needs")
	ask(good, "target=108", "direction=ccw").says("NO", "Counterclockwise.", "not").without("YES", "Set it to")
	ask(good, "target=108", "low=106", "high=110").says("NO").without("YES", "Set it to")
	ask(unknown, "target=108").says("CANNOT CONFIRM We cannot show that this tool is good for this. Treat it as no.", "Instead", "YES torque wrench", "Set it to 108 N·m")
	ask(dropped, "target=108").says("NO", "DO NOT USE").without("YES For this tool only")
	ask(good, "target=lots").with(422).says("That cannot be shown").keeps("target=lots")
	ask(good, "target=108", "low=116", "high=100").with(422).keeps("low=116", "high=100", "target=108")
	b.techA.open(b.tool("bottle jack") + "/ready").with(409).says("never answered here")
	b.techA.open(b.tool("bottle jack")).without("Can I use it")
	b.techA.open("/t/00EKM5/ready").with(404)
}

// "Which tool can I use for …?" answers for every tool that is kept for the quantity,
// best first, and each leads on to its own answer.
func TestWhichToolIsReady(t *testing.T) {
	b := openBay(t)
	good, _, dropped := b.certified(), b.tool("torque wrench"), b.certified()
	b.techB.open(dropped).press("Dropped")
	b.techA.open("/today").link("Which tool can I use for …?")
	page := b.techA.open("/ready").press("Ask", "target=108", "low=100", "high=116").
		says("Which tool can I use for 108 N·m?", "YES torque wrench "+numberOf(good)+" · Set it to 108 N·m", "NO torque wrench "+numberOf(dropped)+" none recorded · DO NOT USE", "service information governs")
	all := text(page.Node)
	if strings.Index(all, "YES torque wrench") > strings.Index(all, "NO torque wrench") {
		t.Errorf("the dropped one stands before the good one: %s", all)
	}
	own := page.all("a", func(a *html.Node) bool { return strings.HasPrefix(nodeAttr(a, "href"), good+"/ready?") })
	if len(own) != 1 {
		t.Fatalf("%d ways on to the answer of %s: %s", len(own), good, all)
	}
	b.techA.open(nodeAttr(own[0], "href")).with(200).says("YES For this tool only.", "100..116 N·m")
	b.techA.open("/ready").press("Ask", "target=20", "unit=mm").says("No tool that measures this is on record").without("YES", "NO ")
	b.techA.open("/ready").press("Ask", "target=lots").with(422).keeps("target=lots").without("YES")
}

// No answer is kept by a browser (RFC 9111 section 5.2.2.5).
func TestAnswersAreNotKept(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	r, err := b.techA.Get(b.techA.url + tool + "/ready?target=108&unit=N%C2%B7m")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if got := r.Header.Get("Cache-Control"); got != "no-store" || r.Header.Get("ETag") != "" {
		t.Errorf("Cache-Control %q, ETag %q", got, r.Header.Get("ETag"))
	}
}

// What only the person at the tool can see is asked for on the answer's page, and
// one tap tells it.
func TestMissingFactsAreOneTap(t *testing.T) {
	b := openBay(t)
	tool := b.tool("torque wrench")
	number := strings.TrimPrefix(tool, "/t/")
	_, err := b.shop.Calibrate(t.Context(), model.By{Actor: computer}, number, model.Calibrate{
		Requirement: &model.Requirement{Preset: "torque-wrench-electronic", Unit: "N·m", Range: "20..200", Graduation: "0.1", GripToDrive: "400mm", Limit: "4 % of reference", LimitFrom: "its certificate, page 2", AmbientLow: "0 °C", AmbientHigh: "40 °C"},
		By:          "Own words", On: "2026-11-20", Direction: "cw", Uncertainty: "0.6%", AsLeft: "20=20.0,20.0,120=120.1,120.0,200=200.1,199.9"})
	if err != nil {
		t.Fatal(err)
	}
	page := b.techA.open(tool+"/ready").press("Ask", "target=108", "low=100", "high=116", "fastener=caliper bolts", "ambient=21 °C").says("CANNOT CONFIRM", "Does it show zero at rest, and is its battery good?")
	page.press("No").says("NO").without("CANNOT CONFIRM")
	yes := page.press("Yes").says("YES For this tool only.").without("Does it show zero")
	yes.keeps("fastener=caliper bolts", "low=100")
	page = b.techA.open(tool+"/ready").press("Ask", "target=80", "crowfoot=50", "angle=45", "zero_and_battery=yes").says("Temperature where it is used").press("Ask", "ambient=70 °F").says("Is the adapter's length entered in the wrench already?")
	page.press("Yes").says("YES", "Set it to 80.0 N·m").without("Offset adapter, seen along") // it corrects by itself
	page.press("No").says("YES", "Set it to 73.5 N·m", "Offset adapter, seen along the fastener", "L = 400 mm")
}

// A tightening is recorded with one tap after a yes; one without a confirmed wrench
// says so, and holds its job until it is done again or signed for.
func TestTightenFromTheAnswer(t *testing.T) {
	b := openBay(t)
	good, unknown := b.certified(), b.tool("torque wrench")
	b.techA.open(good+"/take").press("Take it", "job=1042")
	page := b.techA.open(good+"/ready").press("Ask", "target=108", "low=100", "high=116", "fastener=front wheel nuts").keeps("job=1042", "fastener=front wheel nuts", "count=1")
	page.press("Tightened: record it", "count=5").says("Recorded on job 1042: 5 × front wheel nuts, 108 N·m with", "“Can I use it?” was YES", "clockwise").without("hold the job open", "WITHOUT A CONFIRMED")
	page.press("Tightened: record it", "count=5").says("This was recorded already")
	b.techA.open(good+"/ready").press("Ask", "target=108").press("Tightened: record it", "fastener=", "count=many").with(422).says("“many” is no number of fasteners").keeps("count=many", "job=1042", "target=108")

	held := b.techB.open(unknown+"/ready").press("Ask", "target=108", "fastener=rear wheel nuts").says("DONE WITHOUT A CONFIRMED WRENCH", "holds the job open").
		press("Done without a confirmed wrench: record it", "job=1042", "count=5").
		says("DONE WITHOUT A CONFIRMED TOOL", "It holds job 1042 open.", "or a manager signs for it", "These hold the job open: 1", "“Can I use it?” was CANNOT CONFIRM").without("Sign for it")
	again := b.techB.open(held.link("Do it again with a confirmed tool"))
	again.keeps("redoes=" + b.holding("1042"))
	b.boss.open("/uses?job=1042").says("Sign for it").press("Sign, with this reason", "why=").with(422).says("a signature needs its reason")
	b.boss.open("/uses?job=1042").press("Sign, with this reason", "why=checked with the other wrench").says("Signed for, with the reason.", "Signed for by Maren Oake").without("hold the job open")

	b.boss.open("/uses?job=none").with(404).says("there is no job")
	b.techA.open("/uses").press("Show it", "job=1042").says("front wheel nuts × 5", "rear wheel nuts × 5")
	if got := b.techA.open(good+"/ready").all("option", func(n *html.Node) bool { return nodeAttr(n, "value") == "front wheel nuts" }); len(got) != 1 {
		t.Errorf("the fastener's name is remembered %d times", len(got))
	}
}

// Done again with a confirmed wrench, it holds nothing any more.
func TestRedoneFromTheAnswer(t *testing.T) {
	b := openBay(t)
	good, unknown := b.certified(), b.tool("torque wrench")
	held := b.techB.open(unknown+"/ready").press("Ask", "target=108", "low=100", "high=116", "fastener=rear wheel nuts").
		press("Done without a confirmed wrench: record it", "job=1042", "count=5")
	answer := b.techB.open(held.link("Do it again with a confirmed tool")).says("CANNOT CONFIRM")
	other := answer.all("a", func(n *html.Node) bool { return strings.HasPrefix(nodeAttr(n, "href"), good+"/ready?") })
	if len(other) != 1 {
		t.Fatalf("%d links to the good wrench", len(other))
	}
	b.techB.open(nodeAttr(other[0], "href")).says("YES").keeps("count=5", "job=1042", "fastener=rear wheel nuts").press("Tightened: record it").
		says("Done again since with a confirmed tool.").without("hold the job open")
}

// holding is the id of the one use that holds a job.
func (b *bay) holding(job string) string {
	b.Helper()
	all, err := b.shop.UsesOn(b.Context(), model.By{Actor: computer}, job)
	if err != nil {
		b.Fatal(err)
	}
	for _, u := range all {
		if u.Holds {
			return u.ID
		}
	}
	b.Fatalf("nothing holds job %s", job)
	return ""
}

// A tool that only measures answers so, and what it read is recorded.
func TestMeasure(t *testing.T) {
	b := openBay(t)
	tool := b.tool("brake rotor gauge")
	_, err := b.shop.Calibrate(t.Context(), model.By{Actor: computer}, strings.TrimPrefix(tool, "/t/"), model.Calibrate{
		Requirement: &model.Requirement{Preset: "brake-rotor-gauge", Unit: "mm", Range: "0..50", Graduation: "0.01", Limit: "0.05 mm", LimitFrom: "its certificate, page 1"},
		By:          "Own words", On: "2026-11-20", Uncertainty: "0.05%", AsLeft: "1=1.00,25=25.00,50=50.01"})
	if err != nil {
		t.Fatal(err)
	}
	page := b.techA.open(tool+"/ready").press("Ask", "target=26.1", "low=25.4").says("YES For this tool only.", "It can be used to measure.").without("Set it to", "Tightened")
	page = b.techA.open(page.link("Record what I measured")).keeps("low=25.4")
	page.press("Record it", "what=", "target=26.1", "job=1042").with(422).keeps("target=26.1")
	page.press("Record it", "what=front left rotor thickness", "target=26.1", "job=1042").says("Recorded on job 1042: front left rotor thickness, 26.1 mm with", "Inside the limits.")
}

// Every caution that stands beside an answer has its text in the catalog, word for
// word, and so a translation.
func TestCautionsBesideAnAnswerAreSpanish(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	b.techA.lang = "es"
	page := b.techA.open(tool + "/ready?target=108&unit=N%C2%B7m&crowfoot=50&angle=0&method=torque%2Bangle").with(200)
	for _, text := range calibration.Cautions(calibration.HazardTorque, calibration.HazardSetting, calibration.HazardDate, calibration.HazardMethod, calibration.HazardOffset) {
		page.without(text)
	}
	page.says("NO SE PUEDE CONFIRMAR No podemos mostrar que esta herramienta sirva para esto. Tómelo como un no.", "La información de servicio del fabricante del vehículo manda")
	b.techA.open(tool+"/ready?target=108&unit=N%C2%B7m&crowfoot=50&angle=0").says("Ajústela a 96 N·m", "Solo con el adaptador desplazado, 50 mm a 0°: sin él, este ajuste es falso.")
	b.techA.open(tool + "/ready?target=108&unit=N%C2%B7m&crowfoot=50&angle=90").says("Ajústela a 108 N·m").without("Solo con el adaptador")
	b.techA.open(tool+"/ready?target=108&unit=N%C2%B7m").says("SÍ Solo para esta herramienta.", "Ajústela a 108 N·m", "A la derecha (horario).", "No confirma valor, secuencia").without("For this tool only", "Set it to")

	for _, hazard := range []calibration.Hazard{calibration.HazardBeam, calibration.HazardPressure, calibration.HazardVoltage, calibration.HazardMeasure, calibration.HazardWheelNuts} {
		for _, text := range calibration.Cautions(hazard) {
			if !slices.ContainsFunc(words.Keys(words.Spanish), func(key string) bool {
				return strings.HasPrefix(key, "caution.") && words.Say(words.English, key) == text && words.Say(words.Spanish, key) != text
			}) {
				t.Errorf("%s has no Spanish text: %s", hazard, text)
			}
		}
	}
}

// Whatever a chart writes into its picture is Spanish on a Spanish page, its caution too;
// the figures folded under it are told as they were written.
func TestChartsAreSpanish(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	b.techA.lang = "es"
	b.techA.open(tool).says("torque wrench, calibrada el 20 nov 2026: APROBADA", "↑ muestra de más, % de la referencia", "↓ muestra de menos", "valor ajustado, N·m",
		"dejada a la derecha", "una lectura", "límite", "La información de servicio del fabricante del").without("↑ shows too much", "one reading")

	asked := map[string]bool{}
	one := 1.0
	c := chart.Calibration{Unit: "N·m", Say: func(english string) string { asked[english] = true; return english }}
	for _, phase := range []chart.Phase{chart.AsFound, chart.AsLeft} {
		for _, d := range []chart.Direction{chart.NoDirection, chart.Clockwise, chart.Counterclockwise} {
			c.Points = append(c.Points, chart.Point{Phase: phase, Direction: d, Set: float64(len(c.Points)), Mean: &one, Limit: &one, Guarded: &one})
		}
	}
	for _, i := range []calibration.Instrument{calibration.TorqueWrench, calibration.TireGauge, calibration.Multimeter, calibration.Caliper, calibration.OtherInstrument} {
		c.Caution = calibration.ShortCaution(i)
		if err := c.SVG(io.Discard); err != nil {
			t.Fatal(err)
		}
	}
	if len(asked) != 16 {
		t.Errorf("%d texts: %v", len(asked), asked)
	}
	for text := range asked {
		if !slices.ContainsFunc(words.Keys(words.Spanish), func(key string) bool {
			return strings.HasPrefix(key, "chart.") && words.Say(words.English, key) == text && words.Say(words.Spanish, key) != text
		}) {
			t.Errorf("a chart writes %q, which has no Spanish text", text)
		}
	}
}

// What weighs against a tool is said by its code to readers of Spanish; its figures stay
// beside it as they were written.
func TestReasonsBesideAnAnswerAreSpanish(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	if _, err := b.shop.Wrong(t.Context(), model.By{Actor: computer}, strings.TrimPrefix(tool, "/t/"), model.Wrong{What: "dropped"}); err != nil {
		t.Fatal(err)
	}
	address := tool + "/ready?target=108&unit=N%C2%B7m"
	b.techA.open(address).says("NO", "DO NOT USE: dropped").without("NO USAR")
	b.techA.lang = "es"
	b.techA.open(address).says("NO USAR. DO NOT USE: dropped", "Desde lo que pasó, nada muestra que cumpla.")
	spanish := words.Keys(words.Spanish)
	for _, key := range words.Keys(words.English) {
		if strings.HasPrefix(key, "ready.reason.") && !slices.Contains(spanish, key) {
			t.Errorf("%s has no Spanish text", key)
		}
	}
}

// The list over all tools says once that nobody gave limits, and of a YES first what it
// says nothing about; a wrench of which nobody recorded what it must hold is on it.
func TestWhichToolSaysWhatItDoesNotKnow(t *testing.T) {
	b := openBay(t)
	b.certified()
	kind := "torque wrench"
	bare, err := b.shop.Register(t.Context(), model.By{Actor: computer}, register.New{Change: register.Change{Kind: &kind}})
	if err != nil {
		t.Fatal(err)
	}
	page := b.techA.open("/ready?target=8&unit=kgf%C2%B7m").says("YES", "Nobody gave limits", "you gave no limits, so nothing is said about the job's; the nearest graduation gives 7.9538 kgf·m",
		"CANNOT CONFIRM", "nothing is recorded of the range and the limit that it must hold")
	inOrder(t, text(page.Node), "Nobody gave limits", "YES", "CANNOT CONFIRM", bare.Number.String())
	b.techA.lang = "es"
	b.techA.open("/ready?target=8&unit=kgf%C2%B7m").says("No se dieron límites: SÍ solo dice", "No consta lo que debe cumplir.")
}
