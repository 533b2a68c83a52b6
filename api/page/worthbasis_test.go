package page_test

import (
	"crypto/x509"
	"strings"
	"testing"
	"time"

	"pawl/model/stamp/tsatest"
)

// How long tools are of use is set by a manager, for a class or a kind, and taken back; all
// see it.
func TestLivesOnAPage(t *testing.T) {
	b := openBay(t)
	page := b.boss.open(b.boss.open("/worth").link("How long tools are of use")).says("hand tools", "240 months, never below 0.2", "assumed")
	page.press("Keep it", "class=", "kind=", "months=lots", "floor=1").with(422).says("give a class or a kind", "is not a whole number of months", "leaves nothing to depreciate")
	page.press("Keep it", "class=hand tools", "kind=", "months=120", "floor=0.1").says("hand tools is set.", "120 months, never below 0.1", "set by")
	page = b.boss.open("/worth/lives").press("Keep it", "class=", "kind=torque wrench", "months=60", "floor=0.3").says("torque wrench is set.", "60 months, never below 0.3")
	b.techA.open("/worth/lives").says("60 months, never below 0.3", "A manager changes these.").without("Keep it", "Back to what is assumed")
	page.press("Back to what is assumed: torque wrench").says("torque wrench is not set any more.").without("60 months, never below 0.3")
	b.boss.open("/worth/lives").press("Back to what is assumed: hand tools").says("240 months, never below 0.2")
}

// A price index is taken in as its publisher prints it, shown with its series, area and
// base, and ended. The values are invented.
func TestAPriceIndexOnAPage(t *testing.T) {
	b := openBay(t)
	page := b.boss.open(b.boss.open("/worth").link("Price index")).says("The shop goes by no index.")
	page.press("Take them in").with(422).says("choose")
	page.choose("Take them in", "spreadsheet", "index.csv", []byte("series,area,base,month,value\nInvented prices,Coast,2020 = 100,2026-13,lots\n")).with(422).says("Row 2, month", "Row 2, value")
	sheet := "series,area,base,month,value\nInvented prices,Coast,2020 = 100,2024-10,118.2\nInvented prices,Coast,2020 = 100,2026-10,127.9\n"
	page = page.choose("Take them in", "spreadsheet", "index.csv", []byte(sheet)).says("Values added: 2. Changed: 0. On record already: 0.", "Invented prices", "Coast", "2020 = 100", "2026-10", "127.9")
	page.choose("Take them in", "spreadsheet", "index.csv", []byte(strings.ReplaceAll(sheet, "Invented", "Other"))).with(409).says("goes by another index")
	b.techA.open("/worth/index").says("127.9", "A manager changes these.").without("Take them in", "End it")
	b.boss.open("/worth/index").press("End it").says("Values ended: 2.", "The shop goes by no index.")
}

// From the page of a tool whoever may see its money hands over what proves whose it is.
func TestAPacketOfAToolOnAPage(t *testing.T) {
	b := openBay(t)
	tool := b.tool("pry bar")
	page := b.boss.open(b.boss.open(tool).link("Hand over what proves whose it is")).says("Of one tool: pry bar", "Not legal, tax or insurance advice; the policy's wording decides.")
	page.press("Build it", "add=jobs").says("Built. Tools: 1", "annex.zip", "Fingerprint of the annex", "Put in on purpose: jobs")
	b.boss.open(tool+"/packet").press("Build it", "add=nonsense").with(422).says("is nothing that a packet can hold")
	b.techA.open(tool).without("Hand over what proves")
	b.techA.open(tool + "/packet").with(404).without("Build it")
}

// The certificates of the time-stamp authority are chosen as a file, and dropped.
func TestCertificatesOnThePageOfSettings(t *testing.T) {
	now := time.Now()
	a := tsatest.New(t, [2]time.Time{now.Add(-time.Hour), now.Add(time.Hour)}, x509.ExtKeyUsageTimeStamping)
	b := openBay(t)
	page := b.boss.open("/settings").says("Certificates of the time-stamp authority", "None is kept.")
	page.press("Keep these certificates").with(422).says("choose a file in PEM")
	page.choose("Keep these certificates", "roots", "roots.pem", []byte("no certificate")).with(422).says("there is no certificate of an authority in it")
	page = page.choose("Keep these certificates", "roots", "roots.pem", []byte(a.PEM(t))).says("Saved", "Kept: 1")
	b.techA.open("/settings").without("Keep these certificates")
	page.press("Drop those that are kept").says("No certificate is kept", "None is kept.")
}
