package browser

import (
	"cmp"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"pawl/model"
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

// What the shop was not told goes with the next scan: who takes, and for what, is as
// the tablet last said it, whatever was lost on the way. A step is a scan with what is
// told of it, or what becomes of the line.
func TestBoardIsToldLate(t *testing.T) {
	const kept = "cannot be asked whose badge this is"
	for _, c := range []struct{ name, steps, want string }{
		{"the badge of B is scanned while A's is open at the shop", "A=Tech A takes|cut|B=" + kept + "|works|T=TAKEN:", "out Tech B"},
		{"and its answer is lost", "A=Tech A takes|deaf|B=" + kept + "|works|T=TAKEN:", "out Tech B"},
		{"and what is taken waits", "A=Tech A takes|cut|B=" + kept + "|T=Kept, to be sent|works|online=TAKEN:", "out Tech B"},
		{"and another tool was taken by A before", "A=Tech A takes|2=TAKEN:|cut|B=" + kept + "|works|T=TAKEN:", "out Tech B"},
		{"and A's once more", "A=Tech A takes|cut|B=" + kept + "|A=" + kept + "|works|T=TAKEN:", "out Tech A"},
		{"and the page is loaded anew: nobody is taking", "A=Tech A takes|cut|B=" + kept + "|works|reload|T=Scan your badge first", "in place"},
		{"and a badge is scanned after that", "A=Tech A takes|cut|B=" + kept + "|works|reload|B=Tech B takes|T=TAKEN:", "out Tech B"},
		{"loaded anew with a line, A's stays open", "A=Tech A takes|reload|T=TAKEN:", "out Tech A"},
		{"loaded anew without one, nobody is taking", "A=Tech A takes|settled|cut|reload|T=Scan your badge first|works", "in place"},
		{"a job is scanned that the shop does not hear of", "A=Tech A takes|JOB:1042=Job 1042 is new|cut|JOB:1043=for job 1043|works|T=TAKEN:", "out Tech A 1043"},
		{"a job and then a badge", "cut|JOB:1043=now scan your badge|A=" + kept + "|works|T=for job 1043", "out Tech A 1043"},
		{"the job of A is not B's", "A=Tech A takes|JOB:1042=Job 1042 is new|cut|B=" + kept + "|works|T=TAKEN:", "out Tech B"},
		{"a card is scanned that the shop does not hear of", "A=Tech A takes|T=TAKEN:|cut|CARD:RETURN=RETURN:|works|wait|T=RETURNED:", "in place"},
		{"a badge that nobody has", "A=Tech A takes|cut|B/7K3M9P4X=" + kept + "|works|T=nobody here has the badge", "in place"},
		{"a tool taken and brought back in one dead spot", "A=Tech A takes|cut|T=is taken|CARD:RETURN=RETURN:|wait|T=comes back|works|online=RETURNED:", "in place"},
	} {
		t.Run(strings.ReplaceAll(c.name, " ", "-"), func(t *testing.T) {
			t.Parallel()
			y, p := openBoard(t)
			p.steps(c.steps)
			p.custodyIs(c.want)
			y.is(works)
		})
	}
}

// Undo takes back the act that it names: the last one that was told of, wherever that
// is now. What waits and was never tried is not sent; what may have been done is undone
// after it.
func TestBoardUndoes(t *testing.T) {
	for _, c := range []struct {
		name, steps, want string
		acts              map[string]int
	}{
		{"what was sent late, not what was done before", "A=Tech A takes|2=TAKEN:|cut|T=Kept, to be sent|works|online=TAKEN:|undo=UNDONE:", "in place", map[string]int{"take": 1, "undo": 1}},
		{"what waits, after it", "A=Tech A takes|cut|T=Kept, to be sent|undo=what was done with|works|online=UNDONE:", "in place", map[string]int{"take": 1, "undo": 1}},
		{"what was done while its answer was lost", "A=Tech A takes|deaf|T=Kept, to be sent|undo=what was done with|works|online=UNDONE:", "in place", map[string]int{"take": 1, "undo": 1}},
		{"what was never tried is not sent", "A=Tech A takes|cut|2=Kept, to be sent|T=Kept, to be sent: 000-01Y is taken|undo=is not sent|works|online=TAKEN:", "in place", nil},
		{"once", "A=Tech A takes|cut|2=Kept, to be sent|T=Kept, to be sent: 000-01Y is taken|undo=is not sent|wait|undo=nothing to undo|works|online=TAKEN:", "in place", nil},
		{"what was done before the line was cut", "A=Tech A takes|T=TAKEN:|cut|undo=what was done with|works|online=UNDONE:", "in place", map[string]int{"take": 1, "undo": 1}},
		{"an undo whose answer was lost is done once", "A=Tech A takes|T=TAKEN:|deaf|undo=what was done with|works|online=UNDONE:", "in place", map[string]int{"take": 1, "undo": 1}},
		{"what was kept, after a loading", "A=Tech A takes|settled|cut|2=Kept, to be sent|T=Kept, to be sent: 000-01Y is taken|reload|undo=is not sent|works", "in place", nil},
		{"what was done, after a loading", "A=Tech A takes|T=TAKEN:|reload|undo=UNDONE:", "in place", map[string]int{"take": 1, "undo": 1}},
		{"not what somebody else did since", "A=Tech A takes|T=TAKEN:|elsewhere|undo=changed hands since", "in place", map[string]int{"take": 1, "return": 1}},
		{"not what was refused when it was sent", "A=Tech A takes|2=TAKEN:|cut|T=Kept, to be sent|theirs|works|online=is with Tech B|undo=nothing to undo", "out Tech B", map[string]int{"take": 1}},
	} {
		t.Run(strings.ReplaceAll(c.name, " ", "-"), func(t *testing.T) {
			t.Parallel()
			y, p := openBoard(t)
			p.steps(c.steps)
			p.custodyIs(c.want)
			for verb, want := range c.acts {
				is(t, verb+" in the history", y.acts(t, y.wrench, verb), want)
			}
			y.is(works)
		})
	}
}

// A board that is loaded anew without a connection is the board still: it shows what
// waits, keeps what is scanned, and says nothing that the shop said before. Nothing of
// another page is shown in its place.
func TestBoardLoadedWithoutALine(t *testing.T) {
	y, p := openBoard(t)
	p.steps("A=Tech A takes|T=TAKEN:|settled|cut|2=Kept, to be sent|reload")
	p.says("No connection. What you scan now is kept on this device")
	p.says("Kept on this device, to be sent")
	p.says("waits for the badge of Tech A")
	p.without("TAKEN:")
	if who := eval[string](p, `() => document.getElementById("taking").textContent`); who != "" {
		t.Errorf("it says %q takes", who)
	}
	if folder := os.Getenv("PAWL_PICTURES"); folder != "" {
		p.picture(filepath.Join(folder, "board-without-a-line.png"))
	}
	p.steps("CARD:RETURN=RETURN:|T=Kept, to be sent")
	p.visit("/today")
	p.says("No connection")
	p.visit("/board")
	p.steps("works|B=Tech B takes|A=Tech A takes")
	p.until("all is sent", `() => document.getElementById("late").hidden`)
	p.custodyIs("in place")
	is(t, "take in the history of the second", y.acts(t, y.second, "take"), 1)
	for what, want := range map[string]bool{"/board": true, "/today": false, "/static/jsQR.js": true, "/static/board.js": true} {
		kept := eval[bool](p, `async (path) => (await (await caches.open("pawl-board")).keys()).some((r) => new URL(r.url).pathname === path)`, what)
		if kept != want {
			t.Errorf("that %s is kept is %t, want %t", what, kept, want)
		}
	}
}

// openBoard is a shop with a tablet at its board.
func openBoard(t *testing.T) (*yard, *tab) {
	t.Helper()
	browser(t)
	y := openYard(t)
	y.second = y.tool(t, "ratchet", "RT-70021")
	p := y.open(t, "the board", phone)
	p.visit("/board")
	return y, p
}

// steps does what happens at a board, one after the other.
func (p *tab) steps(all string) {
	p.Helper()
	codes := map[string]string{"A": p.badgeOf(p.T, "Tech A"), "B": p.badgeOf(p.T, "Tech B"), "T": "T/" + p.wrench, "2": "T/" + p.second}
	for _, step := range strings.Split(all, "|") {
		what, says, scan := strings.Cut(step, "=")
		switch {
		case what == "online":
			p.online()
			p.until("it is sent, and says "+says, `(says) => document.getElementById("late").hidden && document.getElementById("loud").textContent.includes(says) || document.getElementById("late").textContent.includes(says)`, says)
		case scan:
			p.scans(cmp.Or(codes[what], what), says)
		default:
			p.happens(what)
		}
	}
}

// happens is what is no scan.
func (p *tab) happens(what string) {
	p.Helper()
	switch what {
	case "cut":
		p.is(cut)
	case "deaf":
		p.is(deaf)
	case "works":
		p.is(works)
	case "reload":
		p.reload()
	case "settled": // the page is kept on the device
		p.until("the board is kept", `async () => !!(await caches.match("/board"))`)
	case "wait": // past what is one scan
		eval[chromedp.Void](p, `() => { const was = performance.now.bind(performance); performance.now = () => was() + 2500; }`)
	case "elsewhere": // it is brought back at another device
		_, err := p.shop.Return(p.Context(), computer, p.wrench, model.Return{})
		p.do(err)
	case "theirs": // Tech B has it meanwhile
		_, err := p.shop.Take(p.Context(), p.actor(p.T, "Tech B"), p.wrench, model.Take{})
		p.do(err)
	default:
		p.Fatalf("nothing happens that is called %q", what)
	}
}

// custodyIs fails unless the wrench is where it should be: its state, who has it, and
// on what job.
func (p *tab) custodyIs(want string) {
	p.Helper()
	v, err := p.shop.Tool(p.Context(), computer, p.wrench)
	p.do(err)
	got := strings.TrimSpace(strings.Join([]string{strings.ReplaceAll(string(v.Custody.State), "_", " "), v.Custody.Person, v.Custody.Job}, " "))
	if got != want {
		p.Errorf("the wrench is %s, want %s", got, want)
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

// At the tablet whether all is back is asked with the scanner alone: a badge, then what
// came back; a number that is typed shows its tool first.
func TestAllBackWithAScannerAlone(t *testing.T) {
	y, p := openBoard(t)
	p.steps("A=Tech A takes|JOB:1042=is new|T=torque wrench|2=ratchet, by Tech A, for job 1042")
	p.leaves(func() { p.tap("All back from this job?") })
	p.at("/jobs/1042/allback")
	scanned := func(code, says string) {
		t.Helper()
		p.until("the field waits for the scanner", `() => document.activeElement.id === "f-code"`)
		p.write("#f-code", code)
		p.leaves(p.enterKey)
		p.says(says)
	}
	scanned(p.badgeOf(t, "Tech B"), "Tech B looks. It ends by itself")
	scanned("T/"+y.second, "put back")
	p.write("#f-code", numbers.Number(y.wrench).String())
	p.leaves(p.enterKey)
	p.says("Is it this one?")
	p.custodyIs("out Tech A 1042")
	p.leaves(func() { p.tap("Yes, this one came back") })
	p.says("Recorded takes that are back: 2, all of them")
	p.custodyIs("in place")
}
