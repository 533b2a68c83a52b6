package page

import (
	"fmt"
	"net/url"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/jobs"
	"pawl/model/register"
	"pawl/model/units"
)

// entry is one act of a tool's history in plain sentences.
type entry struct {
	At   dates.Instant
	Who  string
	Says []string
}

// entries joins the lines of an act, in the order in which they are given.
func entries(lang words.Language, lines []model.LineView) (out []entry) {
	act := int64(-1)
	for _, l := range lines {
		if l.Act != act {
			act = l.Act
			out = append(out, entry{At: dates.Instant(l.At), Who: actorWords(lang, l.ActorName)})
		}
		last := &out[len(out)-1]
		last.Says = append(last.Says, strings.TrimSuffix(sentence(lang, l), ".")+".")
	}
	return out
}

// actorWords is who acted, and by which way where that was not their own device.
func actorWords(lang words.Language, actor string) string {
	name, via, _ := strings.Cut(actor, " via ")
	if key := "history.via." + via; words.Has(key) {
		return name + " (" + words.Say(lang, key) + ")"
	}
	return name
}

// told is a line of the ledger with what it says, as text.
type told struct {
	model.LineView
	lang words.Language
}

// get is a member of the record after the act, "" where there is none.
func (l told) get(column string) string {
	s, _ := l.After[column].(string)
	return s
}

// money gives an amount of the record with its currency, "" where there is none.
func (l told) money(column string) string {
	minor, have := l.After[column].(int64)
	if !have {
		return ""
	}
	return units.Money{Minor: minor, Currency: l.get("currency")}.String()
}

func (l told) say(key string, in ...any) string { return words.Say(l.lang, "history."+key, in...) }

// with adds what a member says, where it says something.
func (l told) with(text, key, value string) string {
	if value == "" {
		return text
	}
	more := l.say(key, value)
	if !strings.ContainsAny(more[:1], ",;.") {
		more = " " + more
	}
	return text + more
}

// sighting says what a count saw of a tool.
func (l told) sighting() string {
	text := l.with(l.say("sighting."+strings.ReplaceAll(l.get("found"), " ", "-"), l.get("count")), "sighting.in", l.get("place"))
	if l.get("label") != "" {
		text += l.say("sighting.label")
	}
	if missing, have := l.After["missing"].([]register.Piece); have {
		var all []string
		for _, p := range missing {
			all = append(all, p.Name)
		}
		text = l.with(text, "sighting.missing", strings.Join(all, ", "))
	}
	return l.with(text, "count.said", l.get("condition"))
}

// marking says how a serial is marked, or which number of its owner's a tool carries.
func (l told) marking() string {
	text := l.say("marking", word(l.lang, "marking.", l.get("method")))
	if l.get("shows") != "" {
		text = l.say("owners-number", l.get("code"), word(l.lang, "marking.", l.get("method")))
	}
	text = l.with(l.with(text, "where", l.get("spot")), "protected", word(l.lang, "protection.", l.get("protection")))
	return l.with(text, "marking-ended", l.get("ended"))
}

// term says from which day a marking is kept so, empty where from the start.
func (l told) term() string {
	if day := l.get("day"); day != "" {
		return l.say("term", day)
	}
	return l.say("term-start")
}

// look says what was seen of a marking.
func (l told) look() string {
	text := l.say("check", l.get("day"))
	if grade, have := l.After["grade"].(int64); have {
		text += l.say("check.grade", grade)
	}
	return l.with(text, "check.read", l.get("read"))
}

// takenBack says that a record was taken back, and why.
func (l told) takenBack() string {
	if l.After["withdrawn"] == nil {
		return ""
	}
	return l.say("taken-back", l.get("why"))
}

// comparison says on which day a tool was compared, and whether that was taken back.
func (l told) comparison() string {
	text := l.say("calibration", l.get("on_day"))
	if l.After["bench"] != nil {
		text = l.say("bench", l.get("on_day"))
	}
	if back := l.takenBack(); back != "" {
		return strings.TrimSuffix(text, ".") + back
	}
	return text
}

// byWithdrawing says whether a line followed from what was taken back beside it.
func (l told) byWithdrawing() bool {
	return l.Rev > 1 && strings.HasSuffix(l.Verb, " withdraw") && l.After["withdrawn"] == nil
}

// sentence says one line of history as somebody would tell it. A line whose
// record is hidden or of a sort that is not known still says what was done.
func sentence(lang words.Language, line model.LineView) string {
	l := told{line, lang}
	if l.After == nil {
		if l.Noun == "evidence" {
			return l.say("evidence.hidden")
		}
		return l.say("hidden", l.Verb)
	}
	switch l.Noun {
	case "tool":
		return l.tool()
	case "number":
		return l.say("number", l.ID)
	case "loan":
		return l.loan()
	case "wrong":
		return l.wrong()
	case "marking":
		return l.marking()
	case "term":
		return l.with(l.with(l.term(), "protected", word(l.lang, "protection.", l.get("protection"))), "used", word(l.lang, "usage.", l.get("usage"))) + l.takenBack()
	case "check":
		return l.look() + l.takenBack()
	case "evidence":
		return l.evidence()
	case "quote", "condition":
		return l.worth()
	case "label":
		return l.say("label", l.get("number"), l.get("why"))
	case "requirement":
		return l.say("requirement")
	case "calibration":
		return l.comparison()
	case "recheck":
		return l.say("recheck", l.get("done"))
	case "finding", "look":
		return l.onJob()
	case "sighting":
		return l.sighting()
	case "difference":
		text := l.say("difference", l.get("count"), word(l.lang, "history.difference.", l.get("how")))
		return l.with(l.with(l.with(text, "difference.in", l.get("place")), "difference.with", l.get("whom")), "count.said", l.get("note"))
	case "inspection":
		return l.with(l.say("inspection", word(l.lang, "check.", l.get("name")), l.get("on_day"), words.Say(lang, "inspect.result."+l.get("result"))), "inspector", l.get("inspector"))
	case "plan":
		return l.with(l.say("plan", word(l.lang, "check.", l.get("name"))), "plan-again", l.get("again"))
	case "use":
		return l.use()
	case "loss line", "claim", "claim line", "packet":
		return l.claimed()
	}
	return l.say("unknown", l.Verb, l.Noun)
}

// worth tells of a price and of a condition that was judged.
func (l told) worth() string {
	switch {
	case l.Noun == "quote" && l.get("basis") != "":
		return l.say("quote.market", l.money("amount"), l.get("source"), l.get("dated"))
	case l.Noun == "quote":
		return l.say("quote", l.money("amount"), l.get("source"), l.get("dated"))
	case l.After["ended"] != nil:
		return l.say("judged.ended")
	}
	return l.say("judged", l.get("share"), l.get("reason"))
}

func (l told) tool() string {
	what := strings.Join(strings.Fields(l.get("kind")+" "+l.get("maker")+" "+l.get("model")), " ")
	switch {
	case l.get("gone") != "":
		return l.with(l.say("gone", word(l.lang, "gone.", l.get("gone_why"))), "note", l.get("gone_note"))
	case l.Rev > 1 && l.Verb == "join":
		return l.say("join", l.get("number"))
	case l.Rev > 1 && l.Verb == "back":
		return l.say("after-all")
	case l.Rev > 1:
		return l.say("edit")
	case l.get("exchanged_from") != "":
		return l.say("exchanged", what)
	case l.Verb == "import":
		return l.say("import", what)
	case what == "":
		return l.say("started")
	}
	return l.say("register", what)
}

// evidence says that a photo or paper came, or was withdrawn.
func (l told) evidence() string {
	kind := evidence.Kind(l.get("kind"))
	switch {
	case l.After["withdrawn"] != nil:
		return l.say("evidence.withdrawn", word(l.lang, "evidence.", string(kind)))
	case kind.Photo():
		return l.say("evidence.photo", word(l.lang, "evidence.", string(kind)))
	}
	return l.say("evidence.paper", word(l.lang, "evidence.", string(kind)))
}

// claimed says what became of the tool in losses, claims and packets.
func (l told) claimed() string {
	switch l.Noun {
	case "loss line":
		return l.lossLine()
	case "claim line":
		if amount := l.money("amount"); amount != "" {
			return l.say("claim.asked", l.get("claim"), amount)
		}
		return l.say("claim.asked.none", l.get("claim"))
	case "packet":
		return l.say("packet", l.ID)
	}
	if l.get("replacement") != "" && l.Rev > 1 {
		return l.say("claim.swapped", l.ID)
	}
	return l.say("claim", l.ID)
}

// lossLine says how the tool stands on the list of a loss.
func (l told) lossLine() string {
	line := fmt.Sprint(l.After["line"])
	switch {
	case l.get("withdrawn") != "":
		return l.with(l.say("loss.withdrawn", l.get("loss"), line), "loss.said", l.get("withdrawn_why"))
	case l.get("recovered") != "":
		return l.with(l.say("loss.recovered", l.get("recovered"), l.get("loss")), "loss.said", l.get("recovered_at"))
	case l.get("confirmed") != "":
		return l.say("loss.confirmed", l.get("loss"), line)
	}
	return l.say("loss.missing", l.get("loss"), line)
}

// use says a tightening or a measurement, with what was said of the tool then.
func (l told) use() string {
	key := "use." + l.get("what")
	switch {
	case l.After["withdrawn"] != nil: // said in what was taken back
	case l.byWithdrawing():
		key = "use.undone"
	case l.get("signed_by") != "" && l.Rev > 1:
		key = "use.signed"
	case l.get("redone_by") != "":
		key = "use.redone"
	}
	if !words.Has("history." + key) {
		return l.say("unknown", l.Verb, l.Noun)
	}
	return l.with(l.say(key, l.get("name"), l.get("verdict")), "job", l.get("job")) + l.takenBack()
}

// onJob says what did not add up of a tool on a job, or that somebody looked.
func (l told) onJob() string {
	if l.Noun == "look" {
		if l.get("sort") == string(jobs.LookSet) {
			return l.with(l.with(l.say("look.set"), "job", l.get("job")), "missing", pieceWords(l.After["missing"]))
		}
		return l.with(l.say("look.seen"), "job", l.get("job"))
	}
	key := "finding." + strings.ReplaceAll(l.get("sort"), " ", "-")
	if l.get("answer") != "" {
		key = "answer." + strings.ReplaceAll(l.get("answer"), " ", "-")
	}
	if !words.Has("history." + key) {
		return l.say("unknown", l.Verb, l.Noun)
	}
	return l.with(l.say(key, l.get("what"), l.get("spot"), l.get("whom")), "job", l.get("job"))
}

func (l told) loan() string {
	if l.Verb == "undo" {
		if l.get("ended") == "" {
			return l.with(l.say("undo.return", l.get("person")), "job", l.get("job"))
		}
		return l.say("undo.take", l.get("person"))
	}
	if l.get("ended") == "" {
		return l.begun()
	}
	condition := func(text string) string { return l.with(text, "condition", l.get("condition")) }
	switch how := l.get("ended_how"); how {
	case "returned":
		text := l.with(condition(l.say("loan.returned")), "broken", l.get("broken"))
		return l.with(text, "missing", pieceWords(l.After["missing"]))
	case "back":
		return condition(l.say("loan.back", l.get("whom")))
	case "handed over":
		return l.say("loan.on", l.get("person"))
	case "sent away", "gone":
		return l.say("loan.over", l.get("person")+l.get("whom"))
	default:
		return l.say("unknown", l.Verb, how)
	}
}

func (l told) begun() string {
	if l.get("state") == "away" {
		key := "purpose." + l.get("purpose")
		if !words.Has(key) {
			return l.say("loan.away", l.get("whom"), l.get("purpose"))
		}
		return l.say("loan.away", l.get("whom"), words.Say(l.lang, key))
	}
	who, _, _ := strings.Cut(l.ActorName, " via ")
	text := l.say("loan.took")
	if to := l.get("person"); to != who {
		text = l.say("loan.has", to)
	}
	return l.with(text, "job", l.get("job"))
}

func (l told) wrong() string {
	what := l.get("what")
	if key := "wrong." + strings.ReplaceAll(what, " ", "-"); words.Has(key) {
		what = words.Say(l.lang, key)
	}
	if l.get("cleared") != "" {
		return l.with(l.say("cleared", what), "note", l.get("why"))
	}
	key := "wrong"
	if l.byWithdrawing() {
		return l.with(l.say("wrong-again", what), "note", l.get("note"))
	}
	if l.get("what") == "label gone" {
		key = "label-gone"
	}
	return l.with(l.say(key, what), "note", l.get("note"))
}

// pieceWords names the pieces of a record.
func pieceWords(v any) string {
	list, _ := v.([]register.Piece)
	names := make([]string, len(list))
	for i, p := range list {
		names[i] = pieceText(p)
	}
	return strings.Join(names, ", ")
}

// historyData is a page of a tool's history, oldest first.
type historyData struct {
	model.ToolView
	Entries []entry
	More    string // address of the next page; empty: this is the last
}

const linesPerPage = 100

func (p *Pages) history(a *Ask) (Reply, error) {
	number := a.Param("number")
	v, err := p.shop.Tool(a.R.Context(), a.By, number)
	if strange(err) {
		return p.strangeNumber(a)
	}
	if err != nil {
		return Reply{}, err
	}
	lines, next, err := p.shop.History(a.R.Context(), a.By, number, linesPerPage, a.Query("after"))
	d := historyData{ToolView: v, Entries: entries(a.language(), lines)}
	if next != "" {
		d.More = toolPath(v.Tool.Number, "history") + "?after=" + url.QueryEscape(next)
	}
	return Show("history", d), err
}
