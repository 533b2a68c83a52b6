package page_test

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/register"
)

// A tool calibration is typed in from its certificate: what it must hold, the
// readings of both directions, the paper. What follows is said point by point.
func TestCalibrateFromACertificate(t *testing.T) {
	b := openBay(t)
	tool := b.tool("torque wrench")
	b.techA.open(tool).says("NOT CHECKED", "No tool calibration is on record.", "Nothing is recorded of what it must hold.")
	form := b.boss.open(b.boss.open(tool).link("Enter a tool calibration"))
	form.keeps("preset=torque-wrench-setting", "unit=N·m", "paper=certificate")
	typed := []string{"range_low=40", "range_high=200", "graduation=1", "grip_to_drive=400", "by=Own words", "certificate_number=C-118", "on=2026-05-04", "uncertainty=0.7%",
		"set.cw.1=40", "found.cw.1=40.4 40.2", "left.cw.1=39.8 39.9", "set.cw.2=120", "found.cw.2=110.0", "left.cw.2=119.3, 119.6", "set.cw.3=200", "found.cw.3=185.2", "left.cw.3=199.0"}

	// A slip of the finger loses nothing: neither what was typed nor the paper.
	wrong := append([]string{"certificate=@", "set.cw.4=x"}, typed...)
	refused := form.press("Save, and show what follows", append(wrong, "found.cw.4=1")...).with(422).says("That was not done", "photo-0.png arrived and is kept for this form.").keeps(typed...)
	page := refused.press("Save, and show what follows", "set.cw.4=", "found.cw.4=")
	page.says("Tool calibration of 4 May 2026", "PASS For less than its whole scale in every direction.", "clockwise, set 120, delivered 110.0: 8.3 % LOW", "As found", "FAIL", "Next due", "4 May 2027",
		"Own words, C-118", "a certificate with readings", "As it was found", "Limit to uncertainty", "Chance that a tool found good is not", "The figures of the chart", "8.3 % LOW")
	if n := len(page.all("svg", func(n *html.Node) bool { return nodeAttr(n, "role") == "img" })); n != 1 {
		t.Errorf("%d charts", n)
	}
	if n := len(page.all("td", func(n *html.Node) bool { return nodeAttr(n, "data-label") == "Mean" })); n != 6 {
		t.Errorf("%d means in the table, want 6", n)
	}
	v, err := b.shop.Tool(t.Context(), model.By{Actor: computer}, strings.TrimPrefix(tool, "/t/"))
	if err != nil || len(v.Evidence) != 1 || v.Evidence[0].Kind != "certificate" {
		t.Errorf("its certificate: %+v, %v", v.Evidence, err)
	}
	page = b.techA.open(tool).says("IN ORDER", "4 May 2026: PASS; next due 4 May 2027", "It must hold ±4 % of what the reference shows", "Own words, C-118")
	b.techA.open(page.link("Tool calibration sticker")).says("Save sticker.pdf, then print it")
	b.techA.open(page.link("Slip for the tool calibration laboratory")).says("Save slip.pdf, then print it")
	page.says("Can I use it for …?", "Enter a tool calibration", "Enter a bench check")
	b.techA.open(tool + "/calibrations").says("4 May 2026: PASS").without("none")
	b.techA.open(tool + "/calibrations/A-none").with(404)
}

// What stands on the paper is asked for by the kind of paper.
func TestKindsOfPaper(t *testing.T) {
	b := openBay(t)
	for _, c := range []struct {
		what   string
		typed  []string
		status int
		says   []string
	}{
		{"no laboratory", []string{"paper=certificate", "found.cw.1=40"}, 422, []string{"say which laboratory compared it"}},
		{"pass without a word", []string{"paper=pass", "by=Own words", "on=2026-05-04"}, 422, []string{"say whether the paper says pass or fail"}},
		{"pass", []string{"paper=pass", "by=Own words", "on=2026-05-04", "claim=pass"}, 200, []string{"CANNOT BE JUDGED", "It supports no yes.", "a paper that only says pass or fail; it says pass"}},
		{"class without its name", []string{"paper=class", "by=Own words", "on=2026-05-04"}, 422, []string{"name the class that the paper declares"}},
		{"class", []string{"paper=class", "by=Own words", "on=2026-05-04", "declared_class=II-A", "declared_points=3", "declared_directions=both"}, 200, []string{"PASS", "a declaration of a class"}},
		{"class with odd points", []string{"paper=class", "by=Own words", "on=2026-05-04", "declared_class=II-A", "declared_points=three"}, 422, []string{"“three” is no number of points"}},
		{"ours with a laboratory", []string{"paper=own", "by=Own words", "set.cw.1=40", "left.cw.1=40"}, 422, []string{"what was compared here has no laboratory"}},
		{"ours without a standard", []string{"paper=own", "set.cw.1=40", "left.cw.1=40.0 40.1"}, 200, []string{"compared here", "It supports no yes.", "no standard is named"}},
		{"as text", []string{"paper=certificate", "by=Own words", "on=2026-05-04", "uncertainty=0.7", "lines=as left\ncw:40=40.4,cw:120=120.0\nccw:40=39.9"}, 200, []string{"clockwise, set 40, delivered 40.4: 1.0 % HIGH", "counterclockwise, set 40"}},
		{"a comma that may be a decimal one", []string{"paper=certificate", "by=Own words", "on=2026-05-04", "set.cw.1=40", "left.cw.1=40,4"}, 422, []string{"“40,4” can be read in two ways"}},
		{"commas between decimals", []string{"paper=certificate", "by=Own words", "on=2026-05-04", "set.cw.1=40", "left.cw.1=40.4,40.2"}, 200, []string{"on average of 2"}},
		{"readings of nothing", []string{"paper=certificate", "by=Own words", "on=2026-05-04", "set.cw.1=", "left.cw.1=40.4"}, 422, []string{"the readings 40.4 have no value"}},
		{"a limit read nowhere", []string{"paper=certificate", "by=Own words", "on=2026-05-04", "limit=3 % of reference", "set.cw.1=40", "left.cw.1=40.4"}, 422, []string{"say where the limit of 3 % of reference was read"}},
	} {
		t.Run(c.what, func(t *testing.T) {
			tool := b.tool("torque wrench")
			page := b.boss.open(tool+"/calibrate").press("Save, and show what follows", append([]string{"range_low=40", "range_high=200", "graduation=1"}, c.typed...)...)
			page.with(c.status).says(c.says...)
			if c.status != 200 {
				page.keeps("range_low=40")
				for _, typed := range c.typed {
					page.keeps(typed)
				}
			}
		})
	}
}

// A file of readings is the third way; beside a mistake its text stays on the page.
func TestReadingsFromAFile(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	send := func(lab, csv string) shown {
		t.Helper()
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		for _, f := range [][2]string{{"paper", "certificate"}, {"by", lab}, {"on", "2026-11-22"}, {"uncertainty", "0.7"}} {
			if err := w.WriteField(f[0], f[1]); err != nil {
				t.Fatal(err)
			}
		}
		part, err := w.CreateFormFile("csv", "readings.csv")
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprint(part, csv)
		w.Close()
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.boss.url+tool+"/calibrate", &body)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", w.FormDataContentType())
		return b.boss.send(r)
	}
	const good = "phase,direction,set,delivered\nas left,cw,40,40.1\nas left,cw,40,40.2\nas left,cw,200,200.4\n"
	refused := send("", good).with(422).says("say which laboratory")
	if got := refused.all("textarea", func(n *html.Node) bool { return nodeAttr(n, "name") == "lines" }); len(got) != 1 || !strings.Contains(text(got[0]), "as left,cw,200,200.4") {
		t.Error("the text of the file is lost")
	}
	send("Own words", "phase,direction\n").with(422).says("not one of readings")
	send("Own words", good).with(200).says("set 40, delivered 40.15 on average of 2")
}

// What another tool of the same model must hold is proposed, and what is on record
// stays unless something else is said.
func TestWhatIsProposed(t *testing.T) {
	b := openBay(t)
	kind, maker, modelName := "torque wrench", "Brindle", "TW-200"
	var paths []string
	for range 2 {
		tool := b.tool(kind)
		v, err := b.shop.Tool(t.Context(), model.By{Actor: computer}, tool[3:])
		if err != nil {
			t.Fatal(err)
		}
		b.boss.open("/add/" + tool[3:] + "/rest").with(200)
		b.named(v, maker, modelName)
		paths = append(paths, tool)
	}
	b.found(paths[0], "40=40.0,40.1,200=200.1,199.9")
	b.boss.open(paths[1]+"/calibrate").keeps("range_low=40", "range_high=200", "graduation=1", "grip_to_drive=400 mm", "preset=torque-wrench-setting")
	form := b.boss.open(paths[0] + "/calibrate")
	form.says("It must hold ±4 % of what the reference shows").keeps("preset=", "set.cw.1=40", "set.cw.2=120", "set.cw.3=200", "set.ccw.3=200")
	form.press("Save, and show what follows", "by=Own words", "on=2026-11-21", "uncertainty=0.6", "left.cw.1=40.1", "months=6").says("21 May 2027")
	v, err := b.shop.Calibrations(t.Context(), model.By{Actor: computer}, paths[0][3:])
	if err != nil || v.Requirement.Scale.String() != "N·m 40..200 by 1" || v.Requirement.GripToDrive.String() != "400 mm" || v.Requirement.Months != 6 {
		t.Errorf("what it must hold: %+v, %v", v.Requirement, err)
	}
}

// A bench check names its standard among the tools that may be one.
func TestBenchCheck(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	tester := b.tool("torque tester")
	b.boss.open(tool + "/bench").without("20 to 250")
	_, err := b.shop.Calibrate(t.Context(), model.By{Actor: computer}, tester[3:], model.Calibrate{
		Requirement: &model.Requirement{Preset: "torque-tester", Unit: "N·m", Range: "20..250", Graduation: "0.1", Limit: "1 % of reference", LimitFrom: "its certificate, page 1"},
		By:          "Own words", On: "2026-11-20", Uncertainty: "0.3%", AsLeft: "cw:20=20.01,cw:250=250.1,ccw:20=20.01,ccw:250=250.0"})
	if err != nil {
		t.Fatal(err)
	}
	number := tester[3:6] + "-" + tester[6:]
	form := b.boss.open(tool+"/bench").says("torque tester "+number, "20 to 250 N·m")
	form.press("Save, and show what follows", "found.cw.1=39.8 40.1").with(422).says("made against a standard").keeps("found.cw.1=39.8 40.1")
	page := form.press("Save, and show what follows", "standard="+number, "temperature=21 °C", "found.cw.1=39.8 40.1", "found.cw.2=119.9 120.1")
	page.says("Bench check of 25 Nov 2026", "PASS", number, "set 40, delivered 39.95 on average of 2").without("Tool calibration sticker")
	b.boss.open(tool).says("25 Nov 2026: PASS", "bench check, "+number, "20 Nov 2026: PASS; next due 20 Nov 2027")
	b.boss.open(b.tool("torque wrench") + "/bench").says("a bench check could say nothing")
}

// A tool calibration is entered by those who may change the tool; everybody else
// sees what follows, and a device on the wall nothing of it.
func TestWhoEntersCalibrations(t *testing.T) {
	b := openBay(t)
	tool, own := b.certified(), b.tool("torque wrench")
	v, err := b.shop.Tool(t.Context(), model.By{Actor: computer}, own[3:])
	if err != nil {
		t.Fatal(err)
	}
	owner := "Tech B"
	if _, err := b.shop.ChangeTool(t.Context(), model.By{Actor: computer}, own[3:], v.Tool.Rev, register.Change{Owner: &owner}); err != nil {
		t.Fatal(err)
	}
	b.techA.open(own).says("Can I use it for …?").without("Enter a tool calibration")
	for _, path := range []string{"/calibrate", "/bench"} {
		b.techA.open(tool + path).with(200)
		b.techA.open(own + path).with(403)
		b.techB.open(own + path).with(200)
	}
	for _, path := range []string{"/ready", "/calibrate", "/bench", "/calibrations", "/measure"} {
		b.board().open(tool + path).with(403)
	}
	b.board().open(tool).without("Can I use it", "Tool calibration of")
}

// Every word that a judged comparison, a requirement or an answer can hold has its
// text.
func TestCalibrationWordsAreInTheCatalog(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	number := tool[3:]
	for _, in := range []model.Calibrate{
		{By: "Own words", On: "2026-11-21", Uncertainty: "0.6%", AsLeft: "cw:40=42.0,cw:120=110.0"},
		{By: "Own words", On: "2026-11-22", Uncertainty: "3%", AsLeft: "cw:40=40.8,cw:120=122.0", Requirement: &model.Requirement{Rule: string(calibration.FourZoneRule)}},
		{By: "Own words", On: "2026-11-23", Adjusted: true, AsFound: "cw:40=40.0", Claim: "fail"},
	} {
		v, err := b.shop.Calibrate(t.Context(), model.By{Actor: computer}, number, in)
		if err != nil {
			t.Fatal(err)
		}
		b.techA.open(tool + "/calibrations/" + v.Calibration.ID).with(200)
	}
	b.techA.open(tool).with(200).says("FAIL")
}
