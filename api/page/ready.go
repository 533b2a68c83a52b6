package page

import (
	"bytes"
	"cmp"
	"html/template"
	"maps"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/units"
)

// The question "Can I use it for …?" is asked by an address and writes nothing.
// Every answer is computed when it is asked for, and no page of it is kept.
func (p *Pages) readyRoutes() []Route {
	return []Route{get("/ready", p.readyWhich), get("/t/:number/ready", p.ready)}
}

// askFields are the fields of the question, in the order of its form; what is
// recorded after the answer carries them along.
var askFields = []string{"target", "unit", "low", "high", "direction", "fastener", "job", "count", "not_safety", "method", "adapter", "crowfoot", "angle",
	"setting_unchanged", "zero_and_battery", "length_in_wrench", "unit_confirmed", "ambient", "redoes"}

// askedBack are the reasons that one tap settles, and the field that it fills.
var askedBack = map[calibration.ReasonCode]string{
	calibration.ReasonAskSetting: "setting_unchanged", calibration.ReasonAskZero: "zero_and_battery",
	calibration.ReasonAskLength: "length_in_wrench", calibration.ReasonAskUnit: "unit_confirmed",
}

// askOf is the question as it was typed.
func askOf(v url.Values) model.Ask {
	text := func(name string) string { return strings.TrimSpace(v.Get(name)) }
	in := model.Ask{
		Target: withUnit(text("target"), text("unit")), Direction: text("direction"), Method: text("method"), Adapter: text("adapter"),
		Crowfoot: withUnit(text("crowfoot"), string(units.Millimeter)), Angle: text("angle"), NotSafety: text("not_safety") != "",
		SettingUnchanged: text("setting_unchanged"), ZeroAndBattery: text("zero_and_battery"), LengthInWrench: text("length_in_wrench"),
		UnitConfirmed: text("unit_confirmed"), Ambient: text("ambient"),
	}
	if text("low") != "" || text("high") != "" {
		in.Limits = text("low") + ".." + text("high")
	}
	return in
}

// withUnit gives a bare value the unit that was chosen beside it.
func withUnit(value, unit string) string {
	if value == "" || unit == "" || !strings.ContainsAny(value[len(value)-1:], "0123456789.,") {
		return value
	}
	return value + " " + unit
}

// carried are the fields that were filled, less some.
func carried(v url.Values, less ...string) (out [][2]string) {
	for _, name := range askFields {
		if text := strings.TrimSpace(v.Get(name)); text != "" && !slices.Contains(less, name) {
			out = append(out, [2]string{name, text})
		}
	}
	return out
}

// asking is what the form of the question needs of a tool, and what its answer
// shows.
type asking struct {
	model.ToolView
	Code       string
	Turns      bool // it has directions
	Sets       bool // its use is a tightening, else a measurement
	Known      bool // what it must hold is on record
	Range      bool // at which temperatures its maker permits it is, too
	OneUnit    string
	Units      []Option
	Directions []Option
	Methods    []Option
	Adapters   []Option
	Replies    []Option
	Fasteners  []string
	Folded     bool // nothing under the fold was filled
	Caution    []string
	*answered
}

// asking gathers what the form needs.
func (p *Pages) asking(a *Ask, typed url.Values) (d asking, err error) {
	ctx, lang := a.R.Context(), a.language()
	if d.ToolView, err = p.shop.Tool(ctx, a.By, a.Param("number")); err != nil {
		return d, err
	}
	if err := calibration.Answers(d.Tool.Kind); err != nil {
		return d, err
	}
	d.Code = string(d.Tool.Number)
	record, err := p.shop.Calibrations(ctx, a.By, d.Code)
	if err != nil {
		return d, err
	}
	d.shape(p, lang, record.Requirement)
	d.Caution = record.Cautions
	if d.Sets {
		if len(d.Caution) == 0 {
			d.Caution = calibration.Cautions(calibration.HazardTorque, calibration.HazardDate)
		}
		d.Methods = p.Options(lang, "ready.method.", string(calibration.ByTorque), "torque+angle", string(calibration.ByYield))
		d.Adapters = append([]Option{{Label: words.Say(lang, "ready.adapter.none")}}, p.Options(lang, "ready.adapter.", string(calibration.Extension),
			string(calibration.TorqueBar), string(calibration.UniversalJoint), string(calibration.Multiplier))...)
		d.Fasteners, err = p.shop.Fasteners(ctx, a.By)
	}
	d.Replies = append([]Option{{Label: words.Say(lang, "ready.reply.none")}}, p.Options(lang, "ready.reply.", "yes", "no")...)
	d.Folded = !slices.ContainsFunc([]string{"method", "adapter", "crowfoot", "angle", "setting_unchanged", "zero_and_battery", "length_in_wrench", "unit_confirmed", "ambient"},
		func(name string) bool { return typed.Get(name) != "" })
	return d, err
}

// shape says in which units and directions the tool can be asked for; of one whose
// record says nothing, in those of its kind.
func (d *asking) shape(p *Pages, lang words.Language, q *calibration.Requirement) {
	if q == nil {
		preset := presetOf(d.Tool.Kind)
		q = &calibration.Requirement{Instrument: preset.Instrument, Class: preset.Class}
		for _, u := range preset.Units {
			d.Units = append(d.Units, Option{Value: string(u), Label: u.Words()})
		}
	} else {
		d.Known, d.Range = true, !q.AmbientLow.IsZero()
		d.Units = []Option{{Value: string(q.Unit), Label: q.Unit.Words(), Chosen: true}}
		if q.Second != nil {
			d.Units = append(d.Units, Option{Value: string(q.Second.Low.Unit), Label: q.Second.Low.Unit.Words()})
		}
	}
	if len(d.Units) > 0 {
		d.Units[0].Chosen = true
	}
	if len(d.Units) == 1 {
		d.OneUnit = d.Units[0].Value
	}
	d.Turns = q.Instrument.Turns()
	if d.Sets = d.Turns && q.Instrument != calibration.TorqueTester; d.Turns {
		d.Directions = p.Options(lang, "ready.direction.", string(calibration.Clockwise), string(calibration.Counterclockwise))
		d.Directions[0].Chosen = true
	}
}

// presetOf is the preset that a kind of tool most likely takes: by its instrument,
// then by its words.
func presetOf(kind string) calibration.Preset {
	kind = strings.ToLower(kind)
	best, most := calibration.Presets()[0], 0
	for _, preset := range calibration.Presets() {
		score := 0
		if strings.Contains(kind, string(preset.Instrument)) {
			score = 10 * len(preset.Instrument)
		}
		for _, word := range strings.Fields(kind) {
			if strings.Contains(preset.Title, strings.TrimSuffix(word, "s")) {
				score += len(word)
			}
		}
		if score > most {
			best, most = preset, score
		}
	}
	return best
}

// refield says of which field of the form a fault is where the form's fields differ
// from those that programs name.
func refield(err error, names map[string]string) error {
	f := *fault.Of(err)
	f.Fields = slices.Clone(f.Fields)
	was := joinedFields(f.Fields)
	for i, field := range f.Fields {
		if to := names[fieldName(field.Pointer)]; to != "" {
			f.Fields[i].Pointer = "#/" + to
		}
	}
	if f.Message == was {
		f.Message = joinedFields(f.Fields)
	}
	return &f
}

// joinedFields is how a fault of several fields says them in one text.
func joinedFields(all []fault.Field) string {
	var out []string
	for _, field := range all {
		out = append(out, strings.TrimPrefix(field.Pointer, "#/")+": "+field.Detail)
	}
	return strings.Join(out, "; ")
}

var askRenamed = map[string]string{"limits": "low"}

func (p *Pages) ready(a *Ask) (Reply, error) {
	typed := a.R.URL.Query()
	d, err := p.asking(a, typed)
	if strange(err) {
		return p.strangeNumber(a)
	}
	if err != nil {
		return Reply{}, err
	}
	if !typed.Has("target") || typed.Has("change") {
		return Show("ready", d).WithForm(typed), nil
	}
	if err := p.answer(a, &d, typed); err != nil {
		err = refield(err, askRenamed)
		r := Show("ready", d)
		r.form, r.err = formOf(typed, err), err
		return r, nil
	}
	r := Show("readyanswer", d).WithForm(p.useValues(a, d.ToolView, typed))
	r.title = p.say(a, "ready.head."+d.Key) + " " + d.Tool.Number.String()
	return r, nil
}

// answered is an answer as its page shows it.
type answered struct {
	model.ReadyView
	Key      string // yes, no, cannot
	Asked    string // the value asked for, with its unit
	Moved    bool   // the nearest mark applies another value than was asked for
	Chance   string // out of 100, never more than it is; empty: no limits were given
	Needed   string // out of 100
	Off      string // by how many percent it delivers, or shows, otherwise; empty: not known
	OffKey   string
	Give     string // give or take, in percent
	Back     []askBack
	Ambient  bool // the temperature is missing
	NoRange  bool // at which temperatures its maker permits it is missing
	Grip     bool // the grip-to-drive length is missing
	Carried  [][2]string
	Asking   [][2]string  // the question without what the form beside it asks for
	Query    template.URL // the same question in an address
	Drawing  template.HTML
	OnlyWith string // the adapter that the setting is for; empty: none that changes the torque
	Measures bool   // nothing is set
	Where    string
}

// askBack is a fact that one tap tells.
type askBack struct {
	Field, Code string
	Carried     [][2]string
}

// answer asks, and puts the answer into what the page shows.
func (p *Pages) answer(a *Ask, d *asking, typed url.Values) error {
	in := askOf(typed)
	v, err := p.shop.ReadyFor(a.R.Context(), a.By, d.Code, in)
	if err != nil {
		return err
	}
	out := &answered{ReadyView: v, Key: verdictKey(v.Verdict), Carried: carried(typed), Query: template.URL(query(carried(typed))), Measures: !d.Sets,
		Asking: carried(typed, "fastener", "job", "count"), Where: p.whereIs(a, d.ToolView)}
	if q, err := units.ParseQuantity(in.Target); err == nil {
		out.Asked = q.Words()
		order, err := q.Compare(v.Target)
		out.Moved = !v.Target.IsZero() && (err != nil || order != 0)
	}
	out.figures()
	for _, r := range v.Reasons {
		if field := askedBack[r.Code]; field != "" {
			out.Back = append(out.Back, askBack{Field: field, Code: field, Carried: carried(typed, field)})
		}
		out.Ambient = out.Ambient || r.Code == calibration.ReasonAskAmbient && d.Range
		out.NoRange = out.NoRange || r.Code == calibration.ReasonAskAmbient && !d.Range
		out.Grip = out.Grip || r.Code == calibration.ReasonGrip
	}
	if in.Crowfoot != "" && d.Sets && in.LengthInWrench != string(calibration.RepliedYes) { // a wrench that corrects by itself is set to the target
		out.Drawing = p.adapterDrawing(a, d.Code, in)
	}
	if out.Adapter != "" {
		out.OnlyWith = p.onlyWith(a, in)
	}
	d.answered = out
	return nil
}

// onlyWith says that a setting is for an adapter, and wrong without it.
func (p *Pages) onlyWith(a *Ask, in model.Ask) string {
	switch kind := calibration.AdapterKind(strings.ToLower(strings.TrimSpace(in.Adapter))); {
	case in.Crowfoot != "":
		return p.say(a, "ready.only-with.offset-adapter", in.Crowfoot, strings.TrimSpace(strings.TrimSuffix(in.Angle, "deg")))
	case calibration.Adapter{Kind: kind}.Changes() && words.Has("ready.only-with."+strings.ReplaceAll(string(kind), " ", "-")):
		return p.say(a, "ready.only-with."+strings.ReplaceAll(string(kind), " ", "-"))
	}
	return ""
}

// adapterDrawing is empty where what it needs is not recorded: the answer says so.
func (p *Pages) adapterDrawing(a *Ask, number string, in model.Ask) template.HTML {
	drawing, err := p.shop.AdapterDrawing(a.R.Context(), a.By, number, in)
	if err != nil {
		return ""
	}
	var b bytes.Buffer
	if drawing.SVG(&b) != nil {
		return ""
	}
	return template.HTML(b.String())
}

func verdictKey(v calibration.Readiness) string {
	switch v {
	case calibration.Yes:
		return "yes"
	case calibration.No:
		return "no"
	}
	return "cannot"
}

// figures writes what was computed in as many digits as mean something.
func (v *answered) figures() {
	if v.InsideProbability != nil {
		v.Chance = outOfHundred(*v.InsideProbability)
	}
	v.Needed = outOfHundred(v.Threshold)
	if d := v.DeviationPercent; d != nil {
		v.Off = strconv.FormatFloat(math.Abs(*d), 'f', 1, 64)
		switch {
		case v.Off == "0.0":
			v.OffKey = "none"
		case *d > 0:
			v.OffKey = "low"
		default:
			v.OffKey = "high"
		}
		if v.Measures && v.OffKey != "none" { // what shows too much is what delivers too little
			v.OffKey = map[string]string{"low": "shows-high", "high": "shows-low"}[v.OffKey]
		}
	}
	if u := v.UncertaintyPercent; u != nil {
		v.Give = strconv.FormatFloat(math.Ceil(*u*10-1e-9)/10, 'f', 1, 64)
	}
}

// outOfHundred cuts a probability at a tenth of a percent: it is never shown as more
// than it is.
func outOfHundred(p float64) string {
	return strconv.FormatFloat(math.Floor(p*1000+1e-9)/10, 'f', -1, 64)
}

// query writes fields into an address.
func query(fields [][2]string) string {
	q := url.Values{}
	for _, f := range fields {
		q.Set(f[0], f[1])
	}
	return q.Encode()
}

// useValues are what the form beside an answer proposes: the job that the tool is
// out for, else the last one of this phone.
func (p *Pages) useValues(a *Ask, v model.ToolView, typed url.Values) url.Values {
	out := maps.Clone(typed)
	if out.Get("job") == "" {
		job := ""
		if v.Custody.State == custody.Out && (holds(v, a.Me()) || a.Me().Person == "") {
			job = v.Custody.Job
		}
		out.Set("job", cmp.Or(job, p.lastJob(a)))
	}
	if out.Get("count") == "" {
		out.Set("count", "1")
	}
	return out
}

// mayCompare says whether whoever asks may enter tool calibrations of it.
func mayCompare(v model.ToolView, me people.Actor) bool {
	return v.Tool.Gone == 0 && people.May(me, people.EditTool, objectOf(v))
}

// CalibratedOn is the day of the calibration that the answer rests on; empty: none.
func (v *answered) CalibratedOn() dates.Date { return dayOf(v.Calibrated) }

// DueOn is the last day on which it is in date; empty: none.
func (v *answered) DueOn() dates.Date { return dayOf(v.Due) }

// dayOf is a day that may be missing.
func dayOf(s *string) dates.Date {
	if s == nil {
		return ""
	}
	return dates.Date(*s)
}

// whereIs says in one sentence where a tool is.
func (p *Pages) whereIs(a *Ask, v model.ToolView) string {
	switch {
	case v.Tool.Gone != 0:
		return p.isNow(a, v, a.Me().Name)
	case v.Custody.State == custody.InPlace && v.Place != "":
		return p.say(a, "tool.in-place", v.Place)
	}
	return p.whoHas(a, v.Custody, a.Me().Name)
}

// reasonTitle says a reason by its code, for readers of another language than that of
// its text, which has the figures; empty: the text says it already.
func reasonTitle(lang words.Language, code calibration.ReasonCode) string {
	key := "ready.reason." + strings.ReplaceAll(string(code), " ", "-")
	if lang == words.English || !words.Has(key) {
		return ""
	}
	return words.Say(lang, key)
}
