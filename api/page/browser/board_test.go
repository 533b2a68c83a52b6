package browser

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"pawl/model/numbers"
)

// scans types a code as a scanner does, and waits for the loud line.
func (p *tab) scans(code, says string) {
	p.Helper()
	p.write("#f-code", code)
	p.enterKey()
	p.until("the board says "+says, `(says) => document.getElementById("loud").textContent.includes(says)`, says)
}

// badgeOf is the code on somebody's badge.
func (y *yard) badgeOf(t *testing.T, name string) string {
	t.Helper()
	b, err := y.shop.Badge(t.Context(), computer, name)
	if err != nil {
		t.Fatal(err)
	}
	return b.Symbol
}

// At a tablet a badge and a tool are two scans, with a script and without; what was
// scanned by mistake is undone with a tap.
func TestScanningAtTheBoard(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, "the board", on)
		p.visit("/board")
		p.scans("JOB:1042", "Job 1042 is new")
		p.scans(y.badgeOf(t, "Tech A"), "Tech A takes for 30 s, for job 1042")
		p.says("Tech A takes")
		p.scans("T/"+y.wrench, "TAKEN:")
		p.says("for job 1042")
		if folder := os.Getenv("PAWL_PICTURES"); folder != "" {
			p.picture(filepath.Join(folder, "board-taken-"+strings.ReplaceAll(on.name, " ", "-")+".png"))
		}
		p.scans("hello", "Not read: hello")
		p.tap("Undo the last scan")
		p.until("it is undone", `() => document.getElementById("loud").textContent.includes("UNDONE:")`)
		p.scans("T/"+y.wrench, "TAKEN:")
		p.scans("CARD:RETURN", "RETURN:")
		p.scans("T/"+y.wrench, "RETURNED:")
		for verb, want := range map[string]int{"take": 2, "return": 1, "undo": 1} {
			is(t, verb+" in the history", y.acts(t, y.wrench, verb), want)
		}
	})
}

// Without a connection, or when only the answer is lost, what was scanned waits on
// the tablet under its key, and is done once; the badge is kept nowhere.
func TestBoardInADeadSpot(t *testing.T) {
	for name, broken := range map[string]line{"nothing arrives": cut, "the answer is lost": deaf} {
		t.Run(name, func(t *testing.T) {
			browser(t)
			y := openYard(t)
			p := y.open(t, "the board", phone)
			p.visit("/board")
			badge := y.badgeOf(t, "Tech A")
			p.scans(badge, "Tech A takes for 30 s")
			y.is(broken)
			p.scans("T/"+y.wrench, "Kept, to be sent: "+numbers.Number(y.wrench).String()+" is taken")
			p.scans("T/0000", "Not read")
			p.scans("undo", "cannot be done without a connection")
			p.says("Kept on this device, to be sent")
			if kept := eval[string](p, keptOnPhone); strings.Contains(kept, strings.TrimPrefix(badge, "B/")) || !strings.Contains(kept, y.wrench) {
				t.Errorf("the tablet keeps %s", kept)
			}
			if folder := os.Getenv("PAWL_PICTURES"); folder != "" {
				p.picture(filepath.Join(folder, "board-kept.png"))
			}
			y.is(works)
			p.online()
			p.until("it is sent", `() => document.getElementById("late").hidden && document.getElementById("loud").textContent.includes("TAKEN:")`)
			is(t, "take in the history", y.acts(t, y.wrench, "take"), 1)
		})
	}
}

// After the page was loaded anew, what was taken under a badge waits for that badge.
func TestBoardWaitsForTheBadge(t *testing.T) {
	browser(t)
	y := openYard(t)
	p := y.open(t, "the board", phone)
	p.visit("/board")
	p.scans(y.badgeOf(t, "Tech A"), "Tech A takes for 30 s")
	y.is(cut)
	p.scans("T/"+y.wrench, "Kept, to be sent")
	y.is(works)
	p.reload()
	p.says("waits for the badge of Tech A")
	p.scans(y.badgeOf(t, "Tech B"), "Tech B takes")
	is(t, "take in the history", y.acts(t, y.wrench, "take"), 0)
	p.scans(y.badgeOf(t, "Tech A"), "Tech A takes")
	p.until("it is sent", `() => document.getElementById("late").hidden`)
	is(t, "take in the history", y.acts(t, y.wrench, "take"), 1)
}

// Without a connection a job ends as it does with one: with the badge under which it
// was named, and by itself after 30 s where none was open.
func TestBoardAloneKeepsNobodysJob(t *testing.T) {
	browser(t)
	y := openYard(t)
	p := y.open(t, "the board", phone)
	p.visit("/board")
	p.scans(y.badgeOf(t, "Tech A"), "Tech A takes for 30 s")
	y.is(cut)
	p.scans("JOB:1042", "Tools are now taken for job 1042")
	p.says("For job 1042.")
	p.scans(y.badgeOf(t, "Tech B"), "cannot be asked whose badge this is")
	p.without("For job 1042.")
	p.scans("T/"+y.wrench, "Kept, to be sent")
	if jobs := eval[string](p, keptJobs); jobs != "" {
		t.Errorf("what Tech B took is kept for job %s", jobs)
	}

	y.is(works)
	p.reload()
	y.is(cut)
	p.scans("JOB:1043", "Job 1043: now scan your badge")
	eval[chromedp.Void](p, `() => { const was = performance.now.bind(performance); performance.now = () => was() + 31000; }`)
	p.scans(y.badgeOf(t, "Tech A"), "cannot be asked whose badge this is")
	p.scans("T/"+y.wrench, "Kept, to be sent")
	if jobs := eval[string](p, keptJobs); jobs != " " {
		t.Errorf("31 s after the job was named a tool is kept for it: %q", jobs)
	}
}

// keptJobs is the job of each act that a board keeps.
const keptJobs = `() => Object.keys(localStorage).filter((k) => k.startsWith("board:")).map((k) => JSON.parse(localStorage.getItem(k)).map((a) => a.job).join(" ")).join(";")`

// What the tablet has no room for is not kept, and it says so loudly.
func TestBoardWithoutRoom(t *testing.T) {
	browser(t)
	y := openYard(t)
	p := y.open(t, "the board", phone)
	p.visit("/board")
	p.scans(y.badgeOf(t, "Tech A"), "Tech A takes for 30 s")
	eval[chromedp.Void](p, `() => { for (let n = 4 << 20, i = 0; n > 0; i++) { try { localStorage.setItem("full" + i, "x".repeat(n)); } catch { n = n >> 1; } } }`)
	y.is(cut)
	p.scans("T/"+y.wrench, "NOT KEPT: this device could not keep the scan of "+numbers.Number(y.wrench).String())
	if tone := eval[string](p, `() => document.getElementById("loud").className`); tone != "loud failed" {
		t.Errorf("it is said in the tone %q", tone)
	}
}
