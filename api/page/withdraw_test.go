package page_test

import (
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// newest is the page of the newest comparison of a tool.
func (b *bay) newest(tool string) string {
	b.Helper()
	v, err := b.shop.Calibrations(b.Context(), model.By{Actor: computer}, strings.TrimPrefix(tool, "/t/"))
	if err != nil || len(v.Calibrations) == 0 {
		b.Fatal(v, err)
	}
	return tool + "/calibrations/" + v.Calibrations[0].ID
}

// A comparison that was entered by mistake is withdrawn on its own page. It stays in the
// list of the tool, struck through, with when, by whom and why, and the tool answers
// without it.
func TestPageOfAComparisonWithdrawn(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	b.found(tool, "40=40.0,40.1,120.1,200=200.1,199.9,200.0") // a forgotten =
	b.techA.open(tool).says("DO NOT USE")
	page := b.boss.open(b.newest(tool)).says("FAIL", "Entered by mistake", "It stays on record with the reason, and counts nowhere any more.")
	page.press("Withdraw it", "why= ").with(422).says("why it is taken back is not said")
	page.press("Withdraw it", "why=a = was forgotten").with(200).
		says("It is withdrawn, and stays on record as such.", "WITHDRAWN", "a = was forgotten", "It counts nowhere").without("Entered by mistake", "DO NOT USE", "Do not use it")
	b.techA.open(tool).says("IN ORDER", "20 Nov 2026: PASS", "WITHDRAWN", "by Maren Oake: a = was forgotten")
	b.techA.open(tool+"/history").says("That was taken back: a = was forgotten", "May be used again")

	// In Spanish too; and where a technician does it, a manager still clears the mark.
	b.found(tool, "120=110.0")
	b.techA.lang = "es"
	page = b.techA.open(b.newest(tool)).says("Anotado por error", "Queda registrado con el porqué").without("Entered by mistake")
	page.press("Retirarlo", "why=era de otra llave").with(200).says("Se retiró, y queda registrado así.", "La herramienta está marcada NO USAR.", "RETIRADO", "por Tech A: era de otra llave").without("Entered by mistake", "Anotado por error")
	b.boss.open(tool).says("DO NOT USE")
	if _, err := b.shop.Clear(t.Context(), model.By{Actor: computer}, strings.TrimPrefix(tool, "/t/"), model.Clear{Why: "of another wrench"}); err != nil {
		t.Error(err)
	}
}

// What was tightened or measured is withdrawn in the list of its job. One that holds the
// job open is a manager's to withdraw.
func TestPageOfAUseWithdrawn(t *testing.T) {
	b := openBay(t)
	good, unknown := b.certified(), b.tool("torque wrench")
	b.techB.open(unknown+"/ready").press("Ask", "target=108", "low=100", "high=116", "fastener=rear wheel nuts").
		press("Done without a confirmed wrench: record it", "job=1042", "count=5").says("hold the job open").without("Entered by mistake")
	b.boss.open("/uses?job=1042").says("hold the job open").press("Withdraw it", "why=it was the other wrench").with(200).
		says("It is withdrawn, and stays on record as such.", "WITHDRAWN", "it was the other wrench", "rear wheel nuts").without("hold the job open", "DONE WITHOUT")
	page := b.techB.open(good+"/ready").press("Ask", "target=108", "low=100", "high=116", "fastener=front wheel nuts").
		press("Tightened: record it", "job=1043", "count=5").with(200).says("Entered by mistake")
	page.press("Withdraw it", "why=").with(422).says("why it is taken back is not said", "front wheel nuts")
	page.press("Withdraw it", "why=the other car").with(200).says("WITHDRAWN", "the other car").without("Entered by mistake")
	b.techB.open(good + "/history").says("That was taken back: the other car")
}

// Whoever entered a comparison takes it back on its page, too, when the tool is not theirs
// to edit any more; one that failed is then its owner's and the managers'.
func TestPageOfferedToWhoEnteredIt(t *testing.T) {
	b := openBay(t)
	tool := b.certified()
	number := strings.TrimPrefix(tool, "/t/")
	enter := func(reading string) string {
		v, err := b.shop.Bench(t.Context(), model.By{Actor: b.techA.actor}, number, model.Bench{Standard: "tester", StandardUncertainty: "0.3%", StandardBias: "0",
			Direction: "cw", Temperature: "21 °C", At: []string{reading}})
		if err != nil {
			t.Fatal(err)
		}
		return tool + "/calibrations/" + v.Calibration.ID
	}
	failed, good := enter("120=110.0"), enter("120=120.0,120.1")
	v, owner := b.view(number), "Tech B"
	if _, err := b.shop.ChangeTool(t.Context(), model.By{Actor: computer}, number, v.Tool.Rev, register.Change{Owner: &owner}); err != nil {
		t.Fatal(err)
	}
	b.techA.open(failed).with(200).without("Entered by mistake")
	b.techA.open(tool + "/calibrations").says("Save the list as a spreadsheet (CSV)")
	b.techB.open(failed).says("Entered by mistake")
	b.techA.open(good).says("Entered by mistake").press("Withdraw it", "why=another wrench").with(200).says("WITHDRAWN", "by Tech A: another wrench")
	b.techB.open(good).says("WITHDRAWN").without("Entered by mistake")
}

// The list of what was done on a job is a spreadsheet too.
func TestUsesAsASpreadsheet(t *testing.T) {
	b := openBay(t)
	b.techB.open(b.certified()+"/ready").press("Ask", "target=108", "low=100", "high=116", "fastener=front wheel nuts").press("Tightened: record it", "job=1043", "count=5").with(200)
	b.techB.lang = "es"
	page := b.techB.open("/uses?job=1043").says("Aprietes y mediciones del trabajo 1043", "Nadie dijo si es un trabajo de seguridad").without("Save", "Another job")
	if to := page.link("Guardar la lista como hoja de cálculo (CSV)"); to != "/api/v1/jobs/1043/uses?format=csv" {
		t.Error(to)
	}
}
