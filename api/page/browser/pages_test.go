package browser

import (
	"crypto/rand"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"pawl/api/page"
	"pawl/model"
	"pawl/model/people"
	"pawl/model/register"
)

// sight is one page as somebody sees it.
type sight struct {
	name string
	who  string // "" is nobody known
	path func(*testing.T, *yard) string
	then func(*tab) // what is done there until it shows; nil: nothing
	lang string     // of the person; empty: English
}

// at is a page at a fixed address; NUMBER stands for the demo's impact wrench.
func at(name, who, path string) sight {
	return sight{name: name, who: who, path: func(_ *testing.T, y *yard) string { return strings.ReplaceAll(path, "NUMBER", y.wrench) }}
}

// onlyGone is the Find page for a serial that only a tool of the demo has that is gone.
func onlyGone(name string) sight {
	return sight{name: name, who: "Tech A", path: func(t *testing.T, y *yard) string {
		t.Helper()
		rows, _, err := y.shop.Find(t.Context(), computer, model.FindQuery{Gone: true, Limit: 200})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(rows, func(r model.ToolRow) bool { return gone(r) && r.Serial != "" })
		if i < 0 {
			t.Fatalf("the demo has no tool for %q", name)
		}
		return "/find?" + url.Values{"text": {rows[i].Serial}}.Encode()
	}}
}

// of is the page of a tool that is found by words or is in a state.
func of(name, who, path string, fits func(model.ToolRow) bool) sight {
	return sight{name: name, who: who, path: func(t *testing.T, y *yard) string {
		t.Helper()
		rows, _, err := y.shop.Find(t.Context(), computer, model.FindQuery{Gone: true, Limit: 200})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(rows, fits)
		if i < 0 {
			t.Fatalf("the demo has no tool for %q", name)
		}
		return strings.ReplaceAll(path, "NUMBER", string(rows[i].Number))
	}}
}

func doNotUse(r model.ToolRow) bool { return r.DoNotUse != "" }
func gone(r model.ToolRow) bool     { return r.GoneWhy != "" }
func with(name string) func(model.ToolRow) bool {
	return func(r model.ToolRow) bool { return r.Person == name }
}
func kindly(word string) func(model.ToolRow) bool {
	return func(r model.ToolRow) bool { return strings.Contains(r.Kind, word) && r.GoneWhy == "" }
}
func away(r model.ToolRow) bool { return string(r.State) == "away" }
func set(r model.ToolRow) bool  { return r.Kind == "socket set" && r.GoneWhy == "" && r.Person == "" }

// lostMarking is the demo's impact wrench of whose serial nothing is left.
func lostMarking(r model.ToolRow) bool { return r.Kind == "impact wrench" && r.Serial == "IW2-48626" }

// unfinished makes a tool that was photographed and not yet typed.
func unfinished(name, path string) sight {
	return sight{name: name, who: "Tech A", path: func(t *testing.T, y *yard) string {
		t.Helper()
		photo := paper(t, "plate "+name)
		sha := y.upload(t, "Tech A", photo)
		by, err := y.shop.ActorNamed(t.Context(), "Tech A")
		if err != nil {
			t.Fatal(err)
		}
		filed, err := y.shop.FilePhotos(t.Context(), model.By{Actor: by}, register.Photos{Start: true, Photos: []register.Attach{{SHA256: sha, Kind: "plate", Name: "plate.jpg"}}})
		if err != nil {
			t.Fatal(err)
		}
		return strings.ReplaceAll(path, "NUMBER", string(filed.Number))
	}}
}

const boss = "Maren Oake"

// sights shows every page of the program, by its route. A page that is not here
// fails the test. Routes that show nothing are nil.
var sights = map[string][]sight{
	"/static/:name": nil, "/sw.js": nil, "/": nil, // files, and a way to /today
	"/T/:number": nil, // the same page, as a label says it

	"/offline": {at("offline", "", "/offline")},
	"/parts":   {at("parts", boss, "/parts")},
	"/today":   {at("today of a manager", boss, "/today"), at("today", "Tech B", "/today"), at("not known here", "", "/today")},
	"/scan":    {at("scan", "Tech A", "/scan"), at("scan of something else", "Tech A", "/scan?code=hello")},
	"/board": {
		at("board", "the board", "/board"), at("board as it is kept", "the board", "/board?kept=yes"), at("board on a phone of one's own", "Tech A", "/board"),
		at("board with what is no code of ours", "the board", "/board").after(func(p *tab) { p.scans("hello", "Not read: hello") }),
	},
	"/find": {at("find", "Tech A", "/find"), at("found", "Tech A", "/find?text=impact"), at("found none", "Tech A", "/find?text=nothing"), onlyGone("found only gone ones"),
		at("found by a worn serial", "Tech A", "/find?reading=KD4%3F8%7BB8%7D2%2A"), at("worn serial of none", "Tech A", "/find?reading=ZZQ9QX&found=others")},
	"/t/:number": {
		at("tool", "Tech A", "/t/NUMBER"), at("tool of another", "Tech B", "/t/NUMBER"), at("tool at the board", "the board", "/t/NUMBER"), at("tool that is not there", "Tech A", "/t/23456789"),
		wrench("tool that measures", "Tech A", "/t/NUMBER"), of("tool that measures, not calibrated", "Tech A", "/t/NUMBER", measuring("pressure gauge")),
		of("tool not to use", "Tech A", "/t/NUMBER", doNotUse), of("tool not to use, to a manager", boss, "/t/NUMBER", doNotUse), of("tool away", "Tech A", "/t/NUMBER", away),
		of("tool that another has", "Tech A", "/t/NUMBER", with("Tech B")), of("tool that is yours", "Tech B", "/t/NUMBER", with("Tech B")), of("tool that is gone", "Tech A", "/t/NUMBER", gone), of("set", "Tech A", "/t/NUMBER", set),
	},
	"/t/:number/history": {at("history", "Tech A", "/t/NUMBER/history")},
	"/t/:number/advice":  {drifted("advice on an interval", boss), of("advice on little", "Tech A", "/t/NUMBER/advice", aTorqueWrench), at("advice on nothing", "Tech A", "/t/NUMBER/advice")},
	"/markings":          {at("round of markings", "Tech A", "/markings"), at("round of markings, to a manager", boss, "/markings")},
	"/t/:number/marking": {
		of("look at a marking that is lost", "Tech A", "/t/NUMBER/marking?round=yes", lostMarking), of("look at a marking", boss, "/t/NUMBER/marking", kindly("cordless drill")),
		at("look at a marking of another", "Tech B", "/t/NUMBER/marking"), of("look at a marking that is not on record", "Tech A", "/t/NUMBER/marking", kindly("hammer")),
		of("look at gloves", "Tech A", "/t/NUMBER/marking", kindly("gloves")),
	},
	"/t/:number/take":     {at("take", "Tech A", "/t/NUMBER/take"), at("take for another", boss, "/t/NUMBER/take"), at("take at the board", "the board", "/t/NUMBER/take")},
	"/t/:number/return":   {of("return", "Tech B", "/t/NUMBER/return", with("Tech B")), of("return at the board", "the board", "/t/NUMBER/return", with("Tech B"))},
	"/t/:number/handover": {of("hand over", "Tech B", "/t/NUMBER/handover", with("Tech B"))},
	"/t/:number/away":     {at("send away", boss, "/t/NUMBER/away")},
	"/t/:number/back":     {of("back", boss, "/t/NUMBER/back", away)},
	"/t/:number/wrong":    {at("something wrong", "Tech A", "/t/NUMBER/wrong")},
	"/t/:number/clear":    {of("clear", boss, "/t/NUMBER/clear", doNotUse)},
	"/t/:number/recheck": {
		doubted("work in doubt", "/t/NUMBER/recheck", true), doubted("no work in doubt", "/t/NUMBER/recheck", false),
	},
	"/t/:number/recheck/:line": {doubted("settle work in doubt", "/t/NUMBER/recheck/LINE", true)},
	"/t/:number/gone":          {at("gone", "Tech A", "/t/NUMBER/gone")},
	"/t/:number/swap":          {at("exchange", "Tech A", "/t/NUMBER/swap")},

	"/t/:number/ready": {
		wrench("ask", "Tech A", "/t/NUMBER/ready"), wrench("answer yes", "Tech A", "/t/NUMBER/ready?target=98&unit=N%C2%B7m&low=88&high=108&direction=cw&fastener=front+wheel+nuts&job=1042"),
		wrench("answer no", "Tech A", "/t/NUMBER/ready?target=98&unit=N%C2%B7m&low=97&high=99&direction=cw"),
		wrench("answer with an adapter", boss, "/t/NUMBER/ready?target=98&unit=N%C2%B7m&crowfoot=50&angle=45&direction=cw"),
		of("answer that cannot be confirmed", "Tech A", "/t/NUMBER/ready?target=30&unit=psi", measuring("pressure gauge")), wrench("question at fault", "Tech A", "/t/NUMBER/ready?target=lots"),
	},
	"/t/:number/measure":          {of("measure", "Tech A", "/t/NUMBER/measure", measuring("torque tester"))},
	"/ready":                      {at("which tool, nothing asked", "Tech A", "/ready"), at("which tool", "Tech A", "/ready?target=98&unit=N%C2%B7m&low=88&high=108&direction=cw"), at("which tool, at fault", "Tech A", "/ready?target=lots")},
	"/t/:number/calibrate":        {wrench("enter a calibration", boss, "/t/NUMBER/calibrate"), of("enter a first calibration", boss, "/t/NUMBER/calibrate", measuring("pressure gauge"))},
	"/t/:number/bench":            {wrench("enter a bench check", boss, "/t/NUMBER/bench"), of("bench check of what must hold nothing", boss, "/t/NUMBER/bench", measuring("pressure gauge"))},
	"/t/:number/calibrations":     {wrench("calibrations", "Tech A", "/t/NUMBER/calibrations")},
	"/t/:number/calibrations/:id": {calibrated("calibration", false), calibrated("bench check", true)},
	"/uses":                       {at("uses of a job", boss, "/uses?job=1042"), at("uses", "Tech A", "/uses")},

	"/jobs":                 {at("jobs", "Tech A", "/jobs")},
	"/jobs/:number":         {at("job", "Tech A", "/jobs/1042"), at("job that is closed over what was open", boss, "/jobs/1039")},
	"/jobs/:number/allback": {at("all back", "Tech A", "/jobs/1042/allback"), at("all back, all of it", "Tech A", "/jobs/1041/allback")},
	"/jobs/:number/close":   {at("close a job", "Tech A", "/jobs/1042/close"), at("close a job, to a manager", boss, "/jobs/1040/close"), at("close a job, nothing open", "Tech A", "/jobs/1041/close")},

	"/due":              {at("due", "Tech A", "/due"), at("due, all of it", boss, "/due?within=365"), at("due, none", "Tech A", "/due?sort=return&within=0")},
	"/out":              {at("to look after", boss, "/out"), at("one list of it", "Tech A", "/out?list=do+not+use")},
	"/places":           {at("places", boss, "/places"), at("places, to a technician", "Tech A", "/places")},
	"/p/:code":          {place("place", boss, "Bay 1"), place("place, to a technician", "Tech A", "Bay 1"), at("place that is not there", "Tech A", "/p/000000000")},
	"/calendar":         {at("calendar", "Tech A", "/calendar"), at("calendar of a manager", boss, "/calendar")},
	"/worth":            {at("worth", boss, "/worth"), at("worth to a technician", "Tech A", "/worth")},
	"/t/:number/worth":  {at("what a tool is worth", "Tech A", "/t/NUMBER/worth"), at("what a tool is worth, to another", boss, "/t/NUMBER/worth")},
	"/worth/quotes":     {at("quotes", boss, "/worth/quotes"), at("quotes for a tool that is not there", boss, "/worth/quotes?number=000-000")},
	"/worth/policy":     {at("a new policy", boss, "/worth/policy"), at("a new policy of a technician", "Tech A", "/worth/policy")},
	"/worth/policy/:id": {policyOf("a policy", boss), policyOf("a policy of one's own", "Tech A")},
	"/worth/lives":      {at("lives", boss, "/worth/lives"), at("lives, to a technician", "Tech A", "/worth/lives")},
	"/worth/index":      {at("price index", boss, "/worth/index"), at("price index, to a technician", "Tech A", "/worth/index")},
	"/t/:number/packet": {at("packet of a tool", "Tech A", "/t/NUMBER/packet"), at("packet of a tool, to another", boss, "/t/NUMBER/packet")},
	"/worth/lost":       {at("if what were lost", boss, "/worth/lost"), at("if everything were lost", boss, "/worth/lost?everything=1"), at("if a place were lost that is not there", boss, "/worth/lost?place=Nowhere")},
	"/gaps":             {at("gaps", boss, "/gaps"), at("gaps to a technician", "Tech B", "/gaps")},
	"/elsewhere":        {at("elsewhere", boss, "/elsewhere")},
	"/packets/:id":      {builtPacket("packet")},
	"/t/:number/inspections": {
		of("inspections of a lift", boss, "/t/NUMBER/inspections", kindly("lift")), of("inspections of gloves", boss, "/t/NUMBER/inspections", kindly("gloves")),
		at("inspections of none", "Tech A", "/t/NUMBER/inspections"),
	},

	"/losses":                   {at("losses", boss, "/losses"), at("losses, to a technician", "Tech B", "/losses")},
	"/losses/start":             {at("report a loss", boss, "/losses/start"), at("report a loss of one's own", "Tech A", "/losses/start?tool=NUMBER")},
	"/losses/recovered":         {at("a tool came back", boss, "/losses/recovered")},
	"/losses/:id":               {lossOf("loss", boss, "/losses/ID"), lossOf("loss of another", "Tech B", "/losses/ID")},
	"/losses/:id/tools/:number": {lossOf("tool of a loss", boss, "/losses/ID/tools/LATE"), lossOf("tool of a loss that came back", boss, "/losses/ID/tools/TOOL")},
	"/claims/:id/packet":        {lossOf("packets of a claim", boss, "/claims/CLAIM/packet")},
	"/claims/:id":               {lossOf("claim", boss, "/claims/CLAIM"), faulty("claim on a warranty")},
	"/t/:number/claim":          {at("open a claim", "Tech A", "/t/NUMBER/claim")},

	"/counts":                    {at("counts", "Tech A", "/counts"), at("counts, to a manager", boss, "/counts")},
	"/counts/start":              {at("start a count", boss, "/counts/start")},
	"/counts/plan":               {at("what to look at today", "Tech A", "/counts/plan")},
	"/counts/:id":                {countOf("count under way", "Tech A", "/counts/ID", true), countOf("count under way, to a manager", boss, "/counts/ID", true), countOf("count that is closed", boss, "/counts/ID", false)},
	"/counts/:id/tools":          {countOf("differences of a count", boss, "/counts/ID/tools", true), countOf("a count, none in a list", "Tech A", "/counts/ID/tools?which=moved+meanwhile", true)},
	"/counts/:id/settle/:number": {countOf("settle a difference", boss, "/counts/ID/settle/DIFFERS", true)},
	"/counts/:id/close":          {countOf("close a count", boss, "/counts/ID/close", true)},

	"/add":                {at("add", "Tech A", "/add")},
	"/add/new":            {at("add without photo", "Tech A", "/add/new")},
	"/add/:number/serial": {unfinished("add, serial", "/add/NUMBER/serial")},
	"/add/:number/rest":   {at("add, the rest", "Tech A", "/add/NUMBER/rest")},
	"/add/:number/photos": {at("add photos", "Tech A", "/add/NUMBER/photos")},
	"/add/unfinished":     {unfinished("unfinished", "/add/unfinished")},
	"/add/unsorted": {{name: "unsorted", who: "Tech A", path: func(t *testing.T, y *yard) string {
		y.upload(t, "Tech A", paper(t, "unsorted"))
		return "/add/unsorted"
	}}},

	"/enter": {at("a way in", "", "/enter")},
	"/enter/:secret": {
		{name: "enter", path: func(t *testing.T, y *yard) string { return "/enter/" + y.link(t, "Tech C") }},
		at("enter with a spent link", "", "/enter/AAAAAAAAAAAAAAAAAAAAAA"),
	},
	"/signed-out":         {at("signed out", "", "/signed-out")},
	"/me":                 {at("me", "Tech A", "/me"), at("me, a manager", boss, "/me")},
	"/people":             {at("people", boss, "/people"), at("people, to a technician", "Tech A", "/people")},
	"/people/:id":         {person("person", "/people/ID")},
	"/people/:id/leave":   {person("leaving", "/people/ID/leave")},
	"/devices":            {at("devices", boss, "/devices"), at("devices, to a technician", "Tech A", "/devices")},
	"/devices/add":        {at("add a device", boss, "/devices/add")},
	"/settings":           {at("settings", boss, "/settings"), at("settings, to a technician", "Tech A", "/settings")},
	"/import":             {at("import", boss, "/import")},
	"/labels":             {at("labels", boss, "/labels"), at("label again", "Tech A", "/labels?number=NUMBER")},
	"/labels/blank":       {at("blank labels", boss, "/labels/blank")},
	"/labels/free":        {at("free labels", boss, "/labels/free")},
	"/labels/join":        {at("join a label", "Tech A", "/labels/join")},
	"/labels/print/:what": nil, // PDF and PNG
	// Ways back to the page whose form led there.
	"/people/:id/enroll": nil, "/me/enroll": nil, "/import/rows": nil,
}

// place is the page of a place.
func place(name, who, path string) sight {
	return sight{name: name, who: who, path: func(t *testing.T, y *yard) string {
		t.Helper()
		v, err := y.shop.Place(t.Context(), computer, path)
		if err != nil {
			t.Fatal(err)
		}
		return "/p/" + v.Code
	}}
}

// policyOf is the page of the first policy that somebody may see.
func policyOf(name, who string) sight {
	return sight{name: name, who: who, path: func(t *testing.T, y *yard) string {
		t.Helper()
		all, err := y.shop.Policies(t.Context(), y.actor(t, who))
		if err != nil || len(all) == 0 {
			t.Fatalf("%d policies, %v", len(all), err)
		}
		return "/worth/policy/" + all[0].ID
	}}
}

// person is a page of a person.
func person(name, path string) sight {
	return sight{name: name, who: boss, path: func(t *testing.T, y *yard) string {
		t.Helper()
		all, err := y.shop.People(t.Context(), computer)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(all, func(p people.Person) bool { return p.Name == "Tech A" })
		return strings.ReplaceAll(path, "ID", all[i].ID)
	}}
}

// behind are the pages that only a form shows.
var behind = []sight{
	at("a way in", boss, "/devices/add").after(func(p *tab) {
		p.tap("A device of the shop")
		p.write("#f-name", "Tool board")
		p.leaves(func() { p.tap("Make the link") })
	}),
	at("an address of the calendar", boss, "/calendar").after(func(p *tab) {
		p.write("#f-name", "phone")
		p.leaves(func() { p.tap("Make an address") })
	}),
	at("a sheet that was looked at", boss, "/import").after(func(p *tab) { p.sheet("kind,serial,owner\nheat gun,HG-1,shop\n") }),
	at("a sheet with faults", boss, "/import").after(func(p *tab) { p.sheet("kind,serial,owner,bought\nheat gun,HG-1,Nobody Here,03/04/2024\n,,,\n") }),
	at("a take that was refused", "Tech A", "/t/NUMBER/take").after(func(p *tab) {
		p.set("#f-due", "2001-01-01")
		p.tap("main form button[type=submit]")
		p.until("it says why not", `() => document.getElementById("problem") !== null`)
	}),
	at("a serial that was read twice and differs", "Tech A", "/add/new").after(func(p *tab) {
		p.write("#f-serial", "AB0O1")
		p.write("#f-serial_again", "AB001")
		p.write("#f-kind", "caliper")
		p.tap("Save and go on")
		p.until("it says why not", `() => document.getElementById("problem") !== null`)
	}),
}

func (s sight) after(then func(*tab)) sight {
	s.then = then
	return s
}

// sheet has a spreadsheet looked at.
func (p *tab) sheet(rows string) {
	p.Helper()
	file := filepath.Join(p.TempDir(), "tools.csv")
	p.do(os.WriteFile(file, []byte(rows), 0o600))
	p.choose("[for=f-spreadsheet]", file)
	p.leaves(func() { p.tap("Look at it") })
}

// show brings a page onto the screen.
func (p *tab) show(s sight, path string) {
	p.Helper()
	p.visit(path)
	if s.then != nil {
		s.then(p)
	}
}

// routes are the GETs of the program's pages.
func routes(y *yard) (out []string) {
	for _, r := range page.New(y.shop, page.Options{Chance: rand.Reader}).Routes() {
		if r.Method == http.MethodGet {
			out = append(out, r.Path)
		}
	}
	slices.Sort(out)
	return out
}

// every runs a check on every page that there is; a page without an example
// fails.
func every(t *testing.T, y *yard, check func(t *testing.T, s sight, path string)) {
	t.Helper()
	for _, route := range routes(y) {
		all, known := sights[route]
		if !known {
			t.Errorf("the page %s has no example among the sights", route)
		}
		for _, s := range all {
			t.Run(strings.ReplaceAll(s.name, " ", "-"), func(t *testing.T) { check(t, s, s.path(t, y)) })
		}
	}
	for _, s := range slices.Concat(behind, refused, spanish()) {
		t.Run(strings.ReplaceAll(s.name, " ", "-"), func(t *testing.T) { check(t, s, s.path(t, y)) })
	}
}

// pageRules holds a page against what can be measured in it; each answer is a
// fault. Sizes are in CSS pixels.
const pageRules = `(rules) => {
	const bad = [];
	const seen = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length > 0;
	const name = (e) => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + (e.className && e.className.baseVal === undefined ? "." + e.className : "") + " " + JSON.stringify((e.innerText || e.value || "").slice(0, 40));
	// WCAG 2.2 SC 1.4.10: no scrolling in two directions.
	const wide = document.scrollingElement.scrollWidth;
	if (wide > innerWidth) {
		const out = [...document.querySelectorAll("body *")].filter((e) => seen(e) && e.getBoundingClientRect().right > innerWidth + 0.5);
		bad.push("it is " + wide + " px wide, the screen " + innerWidth + ": " + out.slice(0, 3).map(name).join("; "));
	}
	// A field with letters under 16 px makes a phone zoom in.
	for (const e of document.querySelectorAll("input:not([type=hidden]):not([type=checkbox]):not([type=radio]):not([type=file]), select, textarea"))
		if (seen(e) && parseFloat(getComputedStyle(e).fontSize) < 16) bad.push(name(e) + " has letters of " + getComputedStyle(e).fontSize);
	// WCAG 2.2 SC 2.5.5 for what is used while standing, 2.5.8 for links within text.
	if (rules.targets) for (const e of document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")) {
		if (!seen(e) || e.classList.contains("skip")) continue;
		const label = ["checkbox", "radio", "file"].includes(e.type) && e.labels && e.labels[0];
		const t = label || e.querySelector("img") || e, r = t.getBoundingClientRect();
		const inText = t.tagName === "A" && getComputedStyle(e).display === "inline";
		const least = inText ? 24 : 44;
		const short = inText ? Math.min(...[...e.getClientRects()].map((r) => r.height)) : Math.min(r.height, r.width);
		if (short < least - 0.1) bad.push(name(e) + " is " + Math.round(r.width) + " by " + Math.round(short) + " px, less than " + least);
	}
	// WCAG 2.2 SC 1.4.11: the edge of what is tapped stands out 3:1.
	const paint = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
	const rgba = (css) => { paint.clearRect(0, 0, 1, 1); paint.fillStyle = css; paint.fillRect(0, 0, 1, 1); const d = paint.getImageData(0, 0, 1, 1).data; return [d[0], d[1], d[2], d[3] / 255]; };
	const over = (top, under) => top.slice(0, 3).map((c, i) => c * top[3] + under[i] * (1 - top[3]));
	const behind = (e) => e ? over(rgba(getComputedStyle(e).backgroundColor), behind(e.parentElement)) : over(rgba("Canvas"), [255, 255, 255]);
	const light = (c) => { const [r, g, b] = c.map((v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
	const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
	for (const e of document.querySelectorAll("main input:not([type=hidden]):not([type=checkbox]):not([type=radio]):not([type=file]), main select, main textarea, main button, main a.button")) {
		if (!seen(e) || e.disabled) continue;
		const under = behind(e.parentElement), s = getComputedStyle(e);
		const edge = parseFloat(s.borderTopWidth) > 0 ? ratio(over(rgba(s.borderTopColor), under), under) : 1, face = ratio(behind(e), under);
		if (Math.max(edge, face) < 3) bad.push(name(e) + " stands out " + Math.max(edge, face).toFixed(2) + ":1, less than 3:1");
	}
	// WCAG 2.2 SC 2.4.11: what has the focus is not hidden by a bar.
	if (rules.focus) for (const e of document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")) {
		if (!seen(e) || e.disabled || e.classList.contains("skip")) continue;
		e.focus({ focusVisible: true });
		if (document.activeElement !== e) { bad.push(name(e) + " takes no focus"); continue; }
		const t = ["checkbox", "radio", "file"].includes(e.type) && e.labels && e.labels[0] || e;
		const shows = [...t.getClientRects()].some((r) => [[0.5, 0.5], [0.1, 0.2], [0.9, 0.8], [0.5, 0.1], [0.5, 0.9]].some(([x, y]) => {
			const top = document.elementFromPoint(r.left + r.width * x, r.top + r.height * y);
			return top && (t.contains(top) || top.contains(t) && top.tagName === "LABEL");
		}));
		if (!shows) bad.push(name(e) + " is hidden when it has the focus");
	}
	return bad;
}`

// Every page, opened once on each of its screens, in light and, on a phone, in dark:
//   - fits, can be hit with a gloved finger, and stands out (pageRules);
//   - comes to 60 kB at most without its photos;
//   - breaks no rule of WCAG 2.2, levels A and AA, that axe-core can decide
//     (https://github.com/dequelabs/axe-core), on a phone; in dark those of the page that
//     shows the parts of all pages, from the size of CI on those of every page; at full size
//     at a desk and in Spanish too, where the same is in other places and other words;
//   - is valid HTML as it comes from the shop (https://html-validate.org);
//   - is not in English where the catalog has it in Spanish, if that was asked for.
func TestPages(t *testing.T) {
	browser(t)
	y, judge, english := openDemo(t), judges(t), onlyEnglish(t)
	p := y.empty(t) // a tab of one's own for each of them takes longer than to look at it
	_, err := chromedp.Call(p.ctx, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: true})
	p.do(err)
	judge.comesAlong(p)
	var forms []sight
	every(t, y, func(t *testing.T, s sight, path string) {
		p.cleared()
		p.sitsAs(t, s, small)
		p.visit(path)
		if sum := p.transferred(); sum > 60_000 {
			t.Errorf("%s is %.0f bytes with its style and script, more than 60000", path, sum)
		}
		if s.then == nil {
			judge.keep(t, path, p.source())
		}
		p.see(phone)
		if s.then != nil {
			forms = append(forms, s)
			s.then(p)
		}
		if s.lang == "es" {
			p.isSpanish(english)
		}
		p.judged(judge, s, path)
	})
	// What a form shows comes from the shop without a script.
	for _, s := range forms {
		t.Run(strings.ReplaceAll(s.name, " ", "-")+"-without-script", func(t *testing.T) {
			p.cleared()
			p.sitsAs(t, s, phone.plain())
			path := s.path(t, y)
			p.show(s, path)
			judge.keep(t, path, p.source())
		})
	}
	judge.valid(t)
}

// looks are the screens and colors that a page is judged in. The rules that move the focus
// come last. Dark changes colors alone, and they do not depend on the width.
var looks = []struct {
	on     screen
	scheme string
	axe    func(s sight) bool // axe-core, which takes most of the time, judges it too
}{
	{phone, "light", func(s sight) bool { return s.lang == "" || full() }},
	{phone, "dark", func(s sight) bool {
		return s.name == "parts" || s.lang == "" && os.Getenv("PAWL_SIZE") == "ci" || full()
	}},
	{desktop, "light", func(sight) bool { return full() }},
	{small, "light", func(sight) bool { return false }},
}

func full() bool { return os.Getenv("PAWL_SIZE") == "full" }

// judged holds the page that is shown against all rules.
func (p *tab) judged(j *judged, s sight, path string) {
	p.Helper()
	if j.axe != "" && looks[0].axe(s) {
		eval[chromedp.Void](p, `() => pawlJudge()`)
	}
	for _, l := range looks {
		p.see(l.on)
		p.paint(l.scheme)
		for _, bad := range eval[[]string](p, pageRules, rules{Targets: l.on == phone, Focus: l.on == small}) {
			p.Errorf("%s, %s, %s: %s", path, l.on.name, l.scheme, bad)
		}
		if j.axe == "" || !l.axe(s) {
			continue
		}
		for _, v := range eval[[]violation](p, runAxe, l.scheme == "dark") {
			p.Errorf("%s, %s, %s: %s: %s\n\t%s", path, l.on.name, l.scheme, v.ID, v.Help, strings.Join(v.Nodes, "\n\t"))
		}
	}
}

// The dark scheme changes colors and nothing else, so that no more than the rules about
// colors need be held against it.
func TestDarkChangesColorsAlone(t *testing.T) {
	files, err := filepath.Glob("../static/css/*.css")
	if err != nil {
		t.Fatal(err)
	}
	dark := regexp.MustCompile(`(?s)@media[^{]*prefers-color-scheme[^{]*\{\s*([^{}]*)\{([^{}]*)\}\s*\}`)
	color := regexp.MustCompile(`^--[a-z-]+: #[0-9a-f]{6}$`)
	found, named := 0, 0
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		named += strings.Count(string(raw), "prefers-color-scheme")
		for _, block := range dark.FindAllStringSubmatch(string(raw), -1) {
			found++
			for _, set := range strings.Split(strings.Trim(block[2], "; \n"), "; ") {
				if !color.MatchString(set) || strings.TrimSpace(block[1]) != ":root" {
					t.Errorf("%s: %s { %s } is no color of the whole page", filepath.Base(file), strings.TrimSpace(block[1]), set)
				}
			}
		}
	}
	if found == 0 || found != named {
		t.Errorf("%d of %d dark blocks were read", found, named)
	}
}

// rules chooses among the rules that are not for every screen.
type rules struct {
	Targets bool `json:"targets"`
	Focus   bool `json:"focus"`
}

// transferred is how many bytes came for a page, without photos.
func (p *tab) transferred() (sum float64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, a := range p.asked {
		if a.kind != network.ResourceTypeImage {
			sum += a.bytes
		}
	}
	return sum
}
