package calibration

import (
	"strings"

	"pawl/model/fault"
	"pawl/model/pattern"
	"pawl/model/units"
)

const (
	maxRungs = 12
	maxTerms = 4
)

var (
	percentShape = pattern.Late(`(?i)^([0-9.]+(?:/[0-9.]+/[0-9.]+)?)\s*%(?:\s*of\s+(.+))?$`)
	countsShape  = pattern.Late(`(?i)^([0-9.]+)\s*(?:counts?|digits?|d)\s+of\s+(.+)$`)
	rungShape    = pattern.Late(`(?i)^(.+?)\s+to\s+(.+)$`)
	largerShape  = pattern.Late(`(?i)^larger\s+of\s+(.+)$`)
	andShape     = pattern.Late(`(?i)\s+and\s+`)
)

// ParseLimit reads a limit as Limit describes it. A percent must say what it is
// of. Anything else is fault.Invalid, with what would be right.
func ParseLimit(s string) (Limit, error) {
	parts := strings.Split(strings.TrimPrefix(strings.TrimSpace(s), "±"), ",")
	if len(parts) > maxRungs {
		return Limit{}, notALimit(s, "at most 12 steps by range")
	}
	var l Limit
	for i, part := range parts {
		r, err := parseRung(part)
		if err != nil {
			return Limit{}, err
		}
		if last := i == len(parts)-1; last != r.To.IsZero() {
			return Limit{}, notALimit(s, "each step but the last says up to which value it holds: 0.08 bar to 4 bar, 0.16 bar")
		}
		if i > 0 && !r.To.IsZero() {
			if order, err := l.Rungs[i-1].To.Compare(r.To); err != nil || order >= 0 {
				return Limit{}, notALimit(s, "steps go by rising values of one unit")
			}
		}
		l.Rungs = append(l.Rungs, r)
	}
	return l, nil
}

func notALimit(s, hint string) error {
	return fault.New(fault.Invalid, "%q is not a limit", fault.Clip(s)).WithHint("%s", hint)
}

func parseRung(s string) (r Rung, err error) {
	s = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(s), "±"))
	if m := rungShape().FindStringSubmatch(s); m != nil {
		if r.To, err = units.ParseQuantity(m[2]); err != nil {
			return Rung{}, err
		}
		s = m[1]
	}
	terms := strings.Split(s, "+")
	if m := largerShape().FindStringSubmatch(s); m != nil {
		r.Combine, terms = LargerOf, andShape().Split(m[1], -1)
	} else if len(terms) > 1 {
		r.Combine = Sum
	}
	if len(terms) > maxTerms || r.Combine == LargerOf && len(terms) < 2 {
		return Rung{}, notALimit(s, "larger of two to four terms, joined by and; or a sum of at most four, joined by +")
	}
	for _, text := range terms {
		t, err := parseTerm(strings.TrimSpace(text))
		if err != nil {
			return Rung{}, err
		}
		r.Terms = append(r.Terms, t)
	}
	return r, nil
}

func parseTerm(s string) (Term, error) {
	if m := percentShape().FindStringSubmatch(s); m != nil {
		return parsePercent(s, m[1], m[2])
	}
	if m := countsShape().FindStringSubmatch(s); m != nil {
		amount, err := parseAmount(m[1])
		if err != nil {
			return Term{}, err
		}
		step, err := units.ParseQuantity(m[2])
		if err != nil {
			return Term{}, err
		}
		if strings.HasPrefix(step.Value, "-") || Decimal(step.Value).Float() == 0 {
			return Term{}, notALimit(s, "one count is more than zero, such as 0.01 V")
		}
		return Term{Form: Counts, Amount: amount, Step: step}, nil
	}
	q, err := units.ParseQuantity(s)
	if err != nil {
		return Term{}, notALimit(s, "write a limit such as 4 % of reference, 1.6 % of span, 0.5 % of indicated + 2 counts of 0.01 V, or 0.02 mm")
	}
	amount, err := parseAmount(q.Value)
	if err != nil {
		return Term{}, err
	}
	return Term{Form: Absolute, Amount: amount, Unit: q.Unit}, nil
}

// denominators are the words for what a percent is of.
var denominators = map[string]Form{
	"reference": OfReference, "delivered": OfReference,
	"indicated": OfIndicated, "shown": OfIndicated, "set": OfIndicated,
	"span": OfSpan,
}

func parsePercent(s, amounts, of string) (Term, error) {
	form, known := denominators[strings.ToLower(strings.TrimSpace(of))]
	if !known {
		return Term{}, notALimit(s, "say what the percent is of: reference (what the standard shows), indicated (what the tool shows) or span (the whole scale)")
	}
	outer, middle := amounts, ""
	if parts := strings.Split(amounts, "/"); len(parts) == 3 {
		if form != OfSpan || parts[0] != parts[2] {
			return Term{}, notALimit(s, "three percents are of span, the first for the lower and the same for the upper quarter: 3/2/3 % of span")
		}
		outer, middle = parts[0], parts[1]
	}
	t := Term{Form: form}
	var err error
	if t.Amount, err = parseShare(outer); err == nil && middle != "" {
		t.Middle, err = parseShare(middle)
	}
	if err != nil {
		return Term{}, err
	}
	return t, nil
}

// parseShare reads a percent: more than 0 and less than 100, so that the window
// about a setting stays finite.
func parseShare(s string) (Decimal, error) {
	d, err := parseAmount(s)
	if err == nil && d.Float() >= 100 {
		return "", fault.New(fault.Invalid, "a limit of %s %% allows anything", d).WithHint("check the percent")
	}
	return d, err
}

// parseAmount reads a decimal above zero.
func parseAmount(s string) (Decimal, error) {
	d, err := ParseDecimal(s)
	if err != nil {
		return "", err
	}
	if !(d.Float() > 0) {
		return "", fault.New(fault.Invalid, "a limit of %s allows nothing", d).WithHint("a limit is more than zero")
	}
	return d, nil
}
