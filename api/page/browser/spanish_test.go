package browser

import (
	"regexp"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"pawl/api/page/words"
)

// inSpanish is a page as somebody sees it who reads Spanish.
func inSpanish(s sight) sight {
	s.name, s.lang = s.name+" in Spanish", "es"
	return s
}

// spanish are the pages that are whole in Spanish: all that concerns safety, what a
// board shows, and what is lost, claimed and handed over.
func spanish() (out []sight) {
	for _, s := range []sight{
		at("tool", "Tech A", "/t/NUMBER"), at("tool at the board", "the board", "/t/NUMBER"), of("tool not to use", "Tech A", "/t/NUMBER", doNotUse),
		of("tool away", "Tech A", "/t/NUMBER", away), of("set", "Tech A", "/t/NUMBER", set), of("tool that is gone", "Tech A", "/t/NUMBER", gone),
		at("tool that is not there", "Tech A", "/t/23456789"), at("history", "Tech A", "/t/NUMBER/history"),
		at("take", "Tech A", "/t/NUMBER/take"), at("take for another", boss, "/t/NUMBER/take"), at("take at the board", "the board", "/t/NUMBER/take"),
		of("return", "Tech B", "/t/NUMBER/return", with("Tech B")), of("hand over", "Tech B", "/t/NUMBER/handover", with("Tech B")),
		at("send away", boss, "/t/NUMBER/away"), of("back", boss, "/t/NUMBER/back", away), at("something wrong", "Tech A", "/t/NUMBER/wrong"),
		of("clear", boss, "/t/NUMBER/clear", doNotUse), at("scan", "Tech A", "/scan"), at("scan at the board", "the board", "/scan"), at("board", "the board", "/board"),
		at("scan of something else", "Tech A", "/scan?code=hello"), at("found", "Tech A", "/find?text=impact"), at("found none", "Tech A", "/find?text=nothing"), onlyGone("found only gone ones"),
		doubted("settle work in doubt", "/t/NUMBER/recheck/LINE", true), wrench("calibrations", "Tech A", "/t/NUMBER/calibrations"), calibrated("calibration", false),
		at("uses of a job", boss, "/uses?job=1042"),
		doubted("work in doubt", "/t/NUMBER/recheck", true), doubted("no work in doubt", "/t/NUMBER/recheck", false),
		at("found by a worn serial", "Tech A", "/find?reading=KD4%3F8%7BB8%7D2%2A"),
		at("due", boss, "/due?within=365"), of("inspections of a jack", boss, "/t/NUMBER/inspections", kindly("jack")), of("inspections of gloves", "Tech A", "/t/NUMBER/inspections", kindly("gloves")),
		at("job", "Tech A", "/jobs/1042"), at("all back", "Tech A", "/jobs/1042/allback"), at("close a job, to a manager", boss, "/jobs/1040/close"),
		at("round of markings", "Tech A", "/markings"), of("look at a marking that is lost", "Tech A", "/t/NUMBER/marking?round=yes", lostMarking), at("what a tool is worth", "Tech A", "/t/NUMBER/worth"),
		at("lives", boss, "/worth/lives"), at("price index", boss, "/worth/index"), at("packet of a tool", "Tech A", "/t/NUMBER/packet"),
		at("losses", boss, "/losses"), at("report a loss", boss, "/losses/start"), at("a tool came back", boss, "/losses/recovered"),
		lossOf("loss", boss, "/losses/ID"), lossOf("tool of a loss", boss, "/losses/ID/tools/LATE"), lossOf("tool of a loss that came back", boss, "/losses/ID/tools/TOOL"),
		lossOf("claim", boss, "/claims/CLAIM"), faulty("claim on a warranty"), at("open a claim", "Tech A", "/t/NUMBER/claim"),
		lossOf("packets of a claim", boss, "/claims/CLAIM/packet"), builtPacket("packet"), at("elsewhere", boss, "/elsewhere"),
		at("today", boss, "/today"), at("no connection", "", "/offline"), at("not known here", "", "/today"), at("signed out", "", "/signed-out"),
		at("a board's own page", "the board", "/me"), at("a viewer's own page", "a visitor", "/me"),
		of("take of a tool not to use", "Tech A", "/t/NUMBER/take", doNotUse).after(func(p *tab) {
			p.tap("main form button[type=submit]")
			p.refused()
		}),
		at("take with a wrong badge", "the board", "/t/NUMBER/take").after(func(p *tab) {
			p.write("#f-badge", "B/XXXXXXXX")
			p.tap("main form button[type=submit]")
			p.refused()
		}),
	} {
		out = append(out, inSpanish(s))
	}
	return out
}

// refused waits until the page says why it did not do that.
func (p *tab) refused() {
	p.Helper()
	p.until("it says why not", `() => document.getElementById("problem") !== null`)
}

// refused are pages that say why something was not done, and others that come
// after a form.
var refused = []sight{
	at("a page of others", "Tech A", "/people/X-00000000"),
	at("no such page", "Tech A", "/nothing"),
	at("what a viewer may not see", "a visitor", "/find"),
	of("take of a tool not to use", "Tech A", "/t/NUMBER/take", doNotUse).after(func(p *tab) {
		p.tap("main form button[type=submit]")
		p.refused()
	}),
	at("take without a badge", "the board", "/t/NUMBER/take").after(func(p *tab) {
		p.write("#f-badge", "B/XXXXXXXX")
		p.tap("main form button[type=submit]")
		p.refused()
	}),
	at("something wrong that is to come", boss, "/t/NUMBER/wrong").after(func(p *tab) {
		p.tap("Dropped")
		p.tap("It happened earlier")
		p.set("#f-happened", "2099-01-01T10:00")
		p.tap("main form button[type=submit]")
		p.refused()
	}),
	at("gone, asked once more", "Tech A", "/t/NUMBER/gone").after(func(p *tab) {
		p.tap("sold")
		p.leaves(func() { p.tap("Go on") })
	}),
	at("add, second step after a photo", "Tech A", "/add").after(func(p *tab) {
		p.choose("Take a photo", paper(p.T, "plate of a second step"))
		p.leaves(func() { p.tap("Save and go on") })
		p.until("the second step", `() => location.pathname.endsWith("/serial")`)
	}),
	at("a further phone of mine", boss, "/me").after(func(p *tab) { p.leaves(func() { p.tap("Let in another device of yours") }) }),
	at("a person who is here already", boss, "/people").after(func(p *tab) {
		p.write("#f-name", "Tech A")
		p.tap("Add")
		p.refused()
	}),
	at("a sheet that does not fit", boss, "/labels/blank").after(func(p *tab) {
		p.write("#f-count", "9999")
		p.tap("main form[method=post] button")
		p.refused()
	}),
	at("a photo without a label", "Tech A", "/scan").after(func(p *tab) {
		p.choose("Take a photo", paper(p.T, "no label"))
		p.leaves(func() { p.tap("Read the label in the photo") })
	}),
}

// openAs opens a tab for the one who sees a page, in their language.
func (y *yard) openAs(t *testing.T, s sight, on screen) *tab {
	t.Helper()
	p := y.empty(t)
	p.sitsAs(t, s, on)
	return p
}

// sitsAs has who sees a page sit down at a tab, in their language.
func (p *tab) sitsAs(t *testing.T, s sight, on screen) {
	t.Helper()
	p.sits(t, s.who, on)
	if s.lang != "" {
		_, err := chromedp.Call(p.ctx, network.SetCookie, network.SetCookieParams{Name: "lang", Value: s.lang, URL: p.url, HTTPOnly: new(true)})
		p.do(err)
	}
}

// source is the page as it came from the shop.
func (p *tab) source() []byte {
	p.Helper()
	p.until("all of it has come", `() => document.readyState === "complete"`)
	p.mu.Lock()
	id := p.document
	p.mu.Unlock()
	got, err := chromedp.Call(p.ctx, network.GetResponseBody, network.GetResponseBodyParams{RequestID: id})
	p.do(err)
	return got.Body
}

// visibleTexts are the pieces of text that a person reads, and those read to them,
// but for documents that say that they are in English, as a chart does.
const visibleTexts = `() => {
	const out = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let n; (n = walk.nextNode());) if (!n.parentElement.closest("script, style, [lang=en]")) out.push(n.data.replace(/\s+/g, " ").trim());
	for (const e of document.querySelectorAll("[aria-label], [alt]")) out.push((e.getAttribute("aria-label") || e.getAttribute("alt") || "").trim());
	return [document.title, ...out].filter((s) => s !== "");
}`

// isSpanish fails where a page is in English that the catalog has in Spanish.
func (p *tab) isSpanish(english func(text string) (key string, found bool)) {
	p.Helper()
	if lang := eval[string](p, `() => document.documentElement.lang`); lang != "es" {
		p.Errorf("the page is said to be in %q", lang)
	}
	for _, text := range eval[[]string](p, visibleTexts) {
		if key, found := english(text); found {
			p.Errorf("%q is English (%s)", text, key)
		}
	}
}

// onlyEnglish tells of a text whether it is a line of the English catalog that
// the Spanish one has, and says otherwise.
func onlyEnglish(t *testing.T) func(text string) (key string, found bool) {
	t.Helper()
	type line struct {
		key     string
		pattern *regexp.Regexp
	}
	var lines []line
	have := words.Keys(words.Spanish)
	hole := regexp.MustCompile(`\\\{\d\\\}`)
	for _, key := range have {
		en, es := words.Say(words.English, key), words.Say(words.Spanish, key)
		bare := regexp.MustCompile(`\{\d\}|[^\pL]`).ReplaceAllString(en, "")
		if en == es || len(bare) < 3 || key == "language" { // a language is named in itself
			continue
		}
		lines = append(lines, line{key, regexp.MustCompile("^" + hole.ReplaceAllString(regexp.QuoteMeta(en), ".*") + "$")})
	}
	if len(lines) < 300 {
		t.Fatalf("only %d lines to look for", len(lines))
	}
	return func(text string) (string, bool) {
		i := slices.IndexFunc(lines, func(l line) bool { return l.pattern.MatchString(text) })
		if i < 0 {
			return "", false
		}
		return lines[i].key, true
	}
}
