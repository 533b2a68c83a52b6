package page_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"pawl/model"
	"pawl/model/people"
)

// boardBay is a bay with a tablet at the tool board; badge gives the code of a badge.
func boardBay(t *testing.T) (b *bay, tablet *walker, badge func(name string) string) {
	t.Helper()
	return boardBayAt(t, time.Second)
}

// boardBayAt is one whose clock goes on by that much whenever it is read.
func boardBayAt(t *testing.T, pace time.Duration) (b *bay, tablet *walker, badge func(name string) string) {
	t.Helper()
	b = openBayAt(t, pace)
	all, err := b.shop.People(t.Context(), model.By{Actor: computer})
	if err != nil {
		t.Fatal(err)
	}
	return b, b.walker(people.Actor{Name: "Wall board", Role: people.ShopDevice, Via: people.ViaDevice, Device: "D-BOARD"}), func(name string) string {
		for _, p := range all {
			if p.Name == name {
				return "B/" + p.Badge
			}
		}
		t.Fatalf("nobody is called %s", name)
		return ""
	}
}

// scans sends one scan after the other, as a browser without script does.
func (p *walker) scans(codes ...string) (page shown) {
	p.Helper()
	page = p.open("/board").with(200)
	for _, code := range codes {
		page = page.press("Enter", "code="+code).with(200)
	}
	return page
}

// custody is where a tool is now: its state, who has it, and on what job.
func (b *bay) custody(path string) string {
	b.Helper()
	v, err := b.shop.Tool(b.Context(), model.By{Actor: computer}, numberIn(path))
	if err != nil {
		b.Fatal(err)
	}
	return strings.TrimSpace(strings.Join([]string{string(v.Custody.State), v.Custody.Person, v.Custody.Job}, " "))
}

// The board works as a plain form: what it remembers between two scans stays on the
// device, where no page shows the badge.
func TestBoardWithoutScript(t *testing.T) {
	b, tablet, badge := boardBay(t)
	tool, other := b.tool("ratchet"), b.tool("impact wrench")
	label, second := "T/"+numberIn(tool), "T/"+numberIn(other)
	tablet.open("/board").with(200).says("Scan your badge, then the tools that you take")
	tablet.scans("JOB:1042", badge("Tech A")).says("Tech A takes for 30 s, for job 1042", "Tech A takes. It ends by itself", "For job 1042").without(badge("Tech A"))
	tablet.scans(label).says("TAKEN:", "ratchet, by Tech A, for job 1042").link("Look at tool " + numberIn(tool)[:3] + "-" + numberIn(tool)[3:])
	if got := b.custody(tool); got != "out Tech A 1042" {
		t.Errorf("the tool is %s", got)
	}
	tablet.lang = "es"
	tablet.open("/board").press("Aceptar", "code="+badge("Tech A")).press("Aceptar", "code=JOB:1043").press("Aceptar", "code="+label).says("NO TOMADA para 1043:", "en el trabajo 1042. Devuélvala primero")
	tablet.lang = ""
	tablet.scans("JOB:1042", badge("Tech A"), label).says("Already done:")
	tablet.scans("CARD:RETURN", label).says("RETURNED:")
	tablet.open("/board").press("Undo the last scan").says("UNDONE:", "with Tech A again")
	if got := b.custody(tool); got != "out Tech A 1042" {
		t.Errorf("after the undo the tool is %s", got)
	}
	wrench := "T/" + numberIn(b.tool("torque wrench"))
	tablet.scans(wrench).without("service information") // it is in its place
	tablet.scans(badge("Tech B"), wrench).says("TAKEN:", "service information governs value")
	tablet.scans(badge("Tech B"), label).says("NOT TAKEN:", "is with Tech A since")
	tablet.scans(second).says("TAKEN:", "by Tech B").without("for job")
	tablet.scans("4006381333931").says("is that the repair order?")
	tablet.scans("hello").says("Not read: hello")
	tablet.open("/board").press("Enter", "code=").with(422)
	tablet.scans("B/7K3M9P4X").says("nobody here has the badge").without("takes. It ends")
	tablet.scans(label).says("RETURNED:")
}

// At a tablet a badge that is open says who looks whether all is back: what is scanned
// comes back, sets are looked at, and the moment is kept, each with a name. Without one
// nothing is done.
func TestAllBackAtTheTablet(t *testing.T) {
	b, tablet, badge := boardBayAt(t, 50*time.Millisecond)
	tool, other := b.tool("ratchet"), b.tool("impact wrench")
	tablet.scans("JOB:1042", badge("Tech A"), "T/"+numberIn(tool)).link("All back from this job?")
	page := tablet.open("/jobs/1042/allback").with(200).says("Tech A looks. It ends by itself", "1042").without("Answer for it")
	page = page.press("It came back", "code=T/"+numberIn(other)).says("was never taken to this job")
	page.press("It came back", "code="+numberIn(tool)).says("Is it this one?", "ratchet").press("Yes, this one came back").says("put back")
	if got := b.custody(tool); got != "in place" {
		t.Errorf("the tool is %s", got)
	}
	tablet.open("/jobs/1042/allback").press("Before the engine is started").says("Kept, with your name", "Tech A")

	fresh := b.walker(people.Actor{Name: "Second board", Role: people.ShopDevice, Via: people.ViaDevice, Device: "D-SECOND"})
	page = fresh.open("/jobs/1042/allback").with(200).says("Scan your badge first").without("ratchet", "Tech A", "Recorded takes", "Before the engine is started")
	fresh.open("/jobs/1042/allback?typed="+numberIn(tool)).with(200).without("ratchet", "Is it this one?")
	page.press("It came back", "code=T/"+numberIn(other)).with(403).says("Scan your badge first")
	page.without("At hand-over").press("It came back", "code=", "before=handover").with(403)
	page.press("It came back", "code=B/7K3M9P4X").says("nobody here has the badge")
	fresh.open("/jobs/1042/allback").press("It came back", "code="+badge("Tech B")).says("Tech B looks, for 30 s").press("At hand-over").says("Tech B")
	v, err := b.shop.AllBack(t.Context(), model.By{Actor: computer}, "1042")
	if err != nil {
		t.Fatal(err)
	}
	var who []string
	for _, l := range v.Looks {
		who = append(who, string(l.Before)+" "+l.By)
	}
	if got := strings.Join(who, ", "); got != "engine Tech A, handover Tech B" {
		t.Errorf("it was looked at by %s", got)
	}
	fresh.open("/jobs/1042/close").with(403)
	fresh.open("/jobs/1042").with(403)
}

// The same code at once is one scan, a number that is typed is asked about, and so is
// a label with the address of another.
func TestBoardAsks(t *testing.T) {
	b := openBayAt(t, time.Millisecond)
	tablet := b.walker(people.Actor{Name: "Wall board", Role: people.ShopDevice, Via: people.ViaDevice, Device: "D-BOARD"})
	tool := b.tool("ratchet")
	tablet.scans("T/"+numberIn(tool), "T/"+numberIn(tool)).says("Scanned twice")
	tablet.scans(strings.ToLower(numberIn(tool))).says("Scanned twice")
	tablet.scans("CARD:RETURN", strings.ToLower(numberIn(tool))).says("Is it this:", "ratchet")
	tablet.scans("HTTPS://FAR.EXAMPLE/T/"+numberIn(tool)).says("carries the address far.example", "ratchet")
	tablet.scans("JOB:a b").says("No job can have the number")
	tablet.scans("P/7K3M9P4X").says("the code of a place")
	tablet.scans("T-" + numberIn(tool)).says("keyboard layout")
}

// A device of somebody's own takes their own badge; a manager's, everybody's.
func TestBoardOnADeviceOfOnesOwn(t *testing.T) {
	b, _, badge := boardBay(t)
	tool := b.tool("ratchet")
	b.techA.scans(badge("Tech B")).says("on a device of your own")
	b.techA.scans(badge("Tech A"), "T/"+numberIn(tool)).says("TAKEN:", "by Tech A")
	b.techB.scans("T/" + numberIn(tool)).says("RETURNED:")
	b.boss.scans(badge("Tech B"), "T/"+numberIn(tool)).says("TAKEN:", "by Tech B")
}

// What waited on the device comes with what was so when it was scanned, and is done
// once; a tool that is not to be used says so in the asker's words.
func TestBoardLate(t *testing.T) {
	b, tablet, badge := boardBay(t)
	tool := b.tool("ratchet")
	label := "T/" + numberIn(tool)
	tablet.script = true
	late := url.Values{"code": {label}, "key": {"k1"}, "happened": {"2026-11-25T09:00:20Z"}, "under": {badge("Tech A")}, "job": {"1042"}}
	send := func(v url.Values) shown {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, tablet.url+"/board", strings.NewReader(v.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		return tablet.send(r)
	}
	send(late).with(200).says(`"Tone":"done"`, "TAKEN:", "by Tech A, for job 1042")
	send(late).with(200).says(`"Tone":"done"`, "TAKEN:")
	lines, _, err := b.shop.History(t.Context(), model.By{Actor: computer}, numberIn(tool), 0, "")
	if err != nil {
		t.Fatal(err)
	}
	takes := 0
	for _, l := range lines {
		if l.Noun == "loan" {
			takes++
		}
	}
	if takes != 1 {
		t.Errorf("it was taken %d times", takes)
	}
	late.Set("key", "k2")
	late.Set("happened", "2099-01-01T00:00:00Z") // a clock that is ahead: that it came back is more than when
	late.Del("under")
	send(late).with(200).says("RETURNED:")
	// A badge that nobody has was taken unasked; the next badge is somebody's and closes it.
	send(url.Values{"code": {badge("Tech B")}, "key": {"k5"}, "told": {"yes"}, "under": {"B/7K3M9P4X"}}).with(200).says("Tech B takes for 30 s").without("nobody here has the badge")
	send(url.Values{"code": {label}, "key": {"k6"}, "told": {"yes"}, "under": {"B/7K3M9P4X"}}).with(200).says("nobody here has the badge")
	if _, err := b.shop.Wrong(t.Context(), model.By{Actor: computer}, numberIn(tool), model.Wrong{What: "dropped"}); err != nil {
		t.Fatal(err)
	}
	tablet.lang = "es"
	send(url.Values{"code": {badge("Tech A")}, "key": {"k3"}}).says("Tech A toma durante 30 s")
	send(url.Values{"code": {label}, "key": {"k4"}}).says(`"Tone":"failed"`, "NO USAR", "No se tomó")
}
