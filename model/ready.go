package model

import (
	"context"
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/units"
)

// Ask is the question "Can I use it for …?" as typed.
type Ask struct {
	Target, Limits, Direction, Method                               string
	Crowfoot, Angle                                                 string // an offset adapter
	Adapter                                                         string // or another one, by its kind
	AdapterFactor, AdapterUncertainty, AdapterDue, AdapterNumber    string // its own certificate
	AngleDevice                                                     string // number of the tool that measures the angle
	NotSafety                                                       bool
	SettingUnchanged, ZeroAndBattery, LengthInWrench, UnitConfirmed string
	Ambient                                                         string
}

// ReadyView answers for one tool.
type ReadyView struct {
	Number, Kind, Holder string
	calibration.ShownAnswer
	Alternatives []AlternativeView
	ComputedAt   dates.Instant
}

// AlternativeView is another tool's answer to the same question, in short.
type AlternativeView struct {
	Number, Kind, Place string
	Verdict             calibration.Readiness
	Available           bool
	Holder              string
	Away                bool // then Holder says where it is, and what for
	Setting             units.Quantity
	InsideProbability   *float64
	Reason              string // what decided
	Code                calibration.ReasonCode
}

// RankedView answers for all tools, best first.
type RankedView struct {
	Verdict    calibration.Readiness // the best
	Tools      []AlternativeView
	LeftOut    int    // tools that are asked for this too, and that the list has no room for
	NoLimits   bool   // nobody gave limits, and the shop has none of its own
	ByDefault  string // ± percent of the shop's default, where nobody gave limits; empty: they are the job's
	Cautions   []string
	ComputedAt dates.Instant
}

// most alternatives beside an answer, and tools in a list.
const (
	mostAlternatives = 5
	mostRanked       = 200
)

// ReadyFor answers whether a tool can be used for what is asked, and what could be
// used instead. It writes nothing.
func (s *Shop) ReadyFor(ctx context.Context, by By, number string, in Ask) (v ReadyView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		t, err := resolve(rx, number)
		if err != nil {
			return err
		}
		m, q, err := asking(rx, in)
		if err != nil {
			return err
		}
		m.tools[t.ID] = t
		if _, have := m.requirements[t.ID]; !have {
			if err := m.readHistory([]string{t.ID}); err != nil {
				return err
			}
		}
		f := m.facts(t.ID, by.Person)
		answer, err := calibration.Ready(f, q)
		if err != nil {
			return err
		}
		v = ReadyView{Number: t.Number.String(), Kind: t.Kind, Holder: holding(f), ShownAnswer: answer.Show(), ComputedAt: rx.Now(), Alternatives: []AlternativeView{}}
		others, _, _, err := m.rank(by, q)
		for _, o := range others {
			if o.Number != v.Number && o.Verdict != calibration.No && len(v.Alternatives) < mostAlternatives {
				v.Alternatives = append(v.Alternatives, o)
			}
		}
		return err
	})
	return v, err
}

// ReadyTools answers one question for every tool that it is for, best first.
func (s *Shop) ReadyTools(ctx context.Context, by By, in Ask) (v RankedView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		m, q, err := asking(rx, in)
		if err != nil {
			return err
		}
		v = RankedView{Verdict: calibration.CannotConfirm, ByDefault: string(q.DefaultPercent), ComputedAt: rx.Now()}
		var all int
		if v.Tools, v.Cautions, all, err = m.rank(by, q); err != nil {
			return err
		}
		v.LeftOut = all - len(v.Tools)
		v.NoLimits = q.Limits.IsZero() && q.DefaultPercent == ""
		if err = m.withoutRequirement(by, q, &v); err != nil {
			return err
		}
		if len(v.Tools) > 0 {
			v.Verdict = v.Tools[0].Verdict
		}
		return nil
	})
	return v, err
}

// asking reads the facts of all tools that measure, and the question.
func asking(rx *store.Rx, in Ask) (*measured, calibration.Question, error) {
	d, err := readNames(rx)
	if err != nil {
		return nil, calibration.Question{}, err
	}
	q, err := d.question(in)
	if err != nil {
		return nil, q, err
	}
	m, err := d.measuredTools()
	return m, q, err
}

// rank answers for every tool, best first, with the cautions of those that are listed and
// how many there are in all.
func (m *measured) rank(by By, q calibration.Question) (out []AlternativeView, cautions []string, all int, err error) {
	var ids []string
	for id := range m.requirements {
		if t, have := m.tools[id]; have && t.Gone == 0 {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	facts := make([]calibration.Facts, len(ids))
	prepared := make([]calibration.Prepared, len(ids))
	for i, id := range ids {
		facts[i] = m.facts(id, by.Person)
	}
	calibration.Shares(len(ids), func(from, to int) {
		for i := from; i < to; i++ {
			prepared[i] = calibration.Prepare(facts[i])
		}
	})
	ranked, err := calibration.Rank(prepared, q)
	out, cautions = []AlternativeView{}, []string{}
	for _, r := range ranked[:min(len(ranked), mostRanked)] {
		shown := r.Answer.Show()
		out = append(out, m.alternative(ids[r.Index], facts[r.Index], shown))
		cautions = alsoOnce(cautions, shown.Cautions)
	}
	return out, cautions, len(ranked), err
}

// alternative puts one tool's answer in short.
func (m *measured) alternative(id string, f calibration.Facts, shown calibration.ShownAnswer) AlternativeView {
	a := AlternativeView{Number: f.Number, Kind: f.Kind, Place: m.places.Path(m.tools[id].Place), Verdict: shown.Verdict,
		Available: shown.Available, Holder: holding(f), Away: f.Away != "", Setting: shown.Setting, InsideProbability: shown.InsideProbability}
	a.Code, a.Reason = inShort(shown.Reasons)
	return a
}

// inShort gives of an answer's reasons what a list has room for: what decided, and of a
// yes, which nothing speaks against, first what it says nothing about.
func inShort(all []calibration.Reason) (code calibration.ReasonCode, text string) {
	if len(all) == 0 {
		return "", ""
	}
	if all[0].Weighs != "" {
		return all[0].Code, all[0].Text
	}
	var first []string
	for _, want := range []calibration.ReasonCode{calibration.ReasonNoLimits, calibration.ReasonDefaultLimits, calibration.ReasonNearest} {
		if i := slices.IndexFunc(all, func(r calibration.Reason) bool { return r.Code == want }); i >= 0 {
			if len(first) == 0 {
				code = want
			}
			first = append(first, all[i].Text)
		}
	}
	if len(first) == 0 {
		return all[0].Code, all[0].Text
	}
	return code, strings.Join(first, "; ")
}

func alsoOnce(have, more []string) []string {
	for _, text := range more {
		if !slices.Contains(have, text) {
			have = append(have, text)
		}
	}
	return have
}

// withoutRequirement lists the tools of kinds that such a value is asked of and of which
// nobody recorded what they must hold: each answers that it cannot be confirmed, which
// is another thing than that the shop has none. The cautions of the unit always stand.
func (m *measured) withoutRequirement(by By, q calibration.Question, v *RankedView) error {
	v.Cautions = alsoOnce(v.Cautions, calibration.Cautions(append(calibration.OfUnit(q.Target.Unit), calibration.HazardDate)...))
	kinds, err := m.Kinds()
	if err != nil {
		return err
	}
	kinds = slices.DeleteFunc(kinds, func(kind string) bool {
		return !calibration.AskedFor(kind, q.Target.Unit) || calibration.Answers(kind) != nil
	})
	var ids []string
	for _, kind := range kinds {
		for after, more := numbers.Number(""), true; more && len(v.Tools)+len(ids) < mostRanked; {
			page, err := m.Tools(store.ToolQuery{Kind: kind, After: after, Limit: mostRanked})
			if err != nil {
				return err
			}
			for _, t := range page {
				if _, have := m.requirements[t.ID]; !have && len(v.Tools)+len(ids) < mostRanked {
					m.tools[t.ID], ids = t, append(ids, t.ID)
				}
				after = t.Number
			}
			more = len(page) == mostRanked
		}
	}
	all, err := m.CountWithoutRequirement(kinds)
	if err != nil {
		return err
	}
	v.LeftOut += all - len(ids)
	if len(ids) == 0 {
		return nil
	}
	if err := m.readHistory(ids); err != nil {
		return err
	}
	for _, id := range ids {
		f := m.facts(id, by.Person)
		answer, err := calibration.Ready(f, q)
		if fault.Is(err, fault.Invalid) { // the question is not for it
			continue
		}
		if err != nil {
			return err
		}
		v.Tools = append(v.Tools, m.alternative(id, f, answer.Show()))
	}
	order := []calibration.Readiness{calibration.Yes, calibration.CannotConfirm, calibration.No}
	slices.SortStableFunc(v.Tools, func(a, b AlternativeView) int { return slices.Index(order, a.Verdict) - slices.Index(order, b.Verdict) })
	return nil
}

func holding(f calibration.Facts) string {
	if f.Away != "" {
		return f.Away
	}
	return f.Holder
}

// question reads what was typed.
func (d *directory) question(in Ask) (q calibration.Question, err error) {
	var bad fault.Problems
	if strings.TrimSpace(in.Target) == "" {
		return q, fault.At("#/target", "say for which value, with its unit, such as 108 N·m")
	}
	q.Target, err = units.ParseQuantity(in.Target)
	bad.Keep("#/target", err)
	if err == nil {
		q.Limits, err = calibration.ParseLimits(in.Limits, q.Target.Unit)
		bad.Keep("#/limits", err)
	}
	if q.Limits.IsZero() && q.Target.Unit.Dimension() == units.Torque {
		q.DefaultPercent = calibration.Decimal(d.settings.DefaultLimitsPercent)
	}
	if in.Direction != "" {
		q.Direction, err = calibration.ParseDirection(in.Direction)
		bad.Keep("#/direction", err)
	}
	q.Method, q.NotSafety = calibration.Method(strings.ToLower(strings.TrimSpace(in.Method))), in.NotSafety
	q.Adapter = adapter(in, &bad)
	for _, r := range []struct {
		text string
		to   *calibration.Reply
	}{{in.SettingUnchanged, &q.SettingUnchanged}, {in.ZeroAndBattery, &q.ZeroAndBattery}, {in.LengthInWrench, &q.LengthInWrench}, {in.UnitConfirmed, &q.UnitConfirmed}} {
		*r.to = calibration.Reply(strings.ToLower(strings.TrimSpace(r.text)))
	}
	if in.Ambient != "" {
		q.Ambient, err = units.ParseQuantity(in.Ambient)
		bad.Keep("#/ambient", err)
	}
	if in.AngleDevice != "" {
		q.AngleDevice, err = d.angleDevice(in.AngleDevice)
		bad.Keep("#/angle_device", err)
	}
	if err := bad.Err(); err != nil {
		return q, err
	}
	return q, q.Check()
}

func adapter(in Ask, bad *fault.Problems) (a calibration.Adapter) {
	var err error
	switch {
	case in.Crowfoot != "" && in.Adapter != "" && in.Adapter != string(calibration.Crowfoot):
		bad.Add("#/adapter", "an offset adapter and a %s at once are not answered for", in.Adapter)
	case in.Crowfoot != "":
		a, err = calibration.ParseCrowfoot(in.Crowfoot, in.Angle)
		bad.Keep("#/crowfoot", err)
	case in.Angle != "":
		bad.Add("#/angle", "an angle belongs to an offset adapter: give its length with --crowfoot")
	case in.Adapter != "":
		a.Kind = calibration.AdapterKind(strings.ToLower(strings.TrimSpace(in.Adapter)))
		if !slices.Contains(calibration.AdapterKinds, a.Kind) {
			bad.Add("#/adapter", "%q is not an adapter; use extension, offset adapter, torque-limiting, universal joint or multiplier", in.Adapter)
		}
	}
	if strings.TrimSpace(in.AdapterFactor) == "" {
		if in.AdapterUncertainty != "" || in.AdapterDue != "" || in.AdapterNumber != "" {
			// Without a factor the rest says nothing of the torque, and must not seem to have been counted.
			bad.Keep("#/adapter_factor", fault.New(fault.Invalid, "of the adapter's certificate the factor is missing").
				WithHint("give it with its uncertainty and due day (--adapter-factor 4.85 --adapter-uncertainty 3 --adapter-due 2027-01-01), or leave all of them out"))
		}
		return a
	}
	c := &calibration.AdapterCertificate{Number: strings.TrimSpace(in.AdapterNumber)}
	c.Factor, err = calibration.ParseDecimal(in.AdapterFactor)
	bad.Keep("#/adapter_factor", err)
	c.Uncertainty, err = calibration.ParseDecimal(strings.TrimSuffix(strings.TrimSpace(in.AdapterUncertainty), "%"))
	bad.Keep("#/adapter_uncertainty", err)
	c.Due, err = dates.ParseDate(in.AdapterDue)
	bad.Keep("#/adapter_due", err)
	a.Certificate = c
	return a
}

// angleDevice says whether the tool that is to measure the angle is here and in use.
func (d *directory) angleDevice(number string) (bool, error) {
	t, err := resolve(d.Rx, number)
	if err != nil {
		return false, err
	}
	open, err := d.OpenWrongs(t.ID)
	if err != nil {
		return false, err
	}
	_, out := custody.DoNotUse(open)
	return t.Gone == 0 && !out, nil
}
