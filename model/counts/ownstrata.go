package counts

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/units"
)

// OwnStratum is a stratum as somebody wants it: from a worth on, or without a price, with
// a rule of its own.
type OwnStratum struct {
	Unpriced bool
	From     int64 // minor units
	Rule
}

// mostStrata is how many strata of worth there may be: they are called A to H.
const mostStrata = 8

// stratumHint says how a stratum is written.
const stratumHint = `write "from=1000,all", "from=100,missing-at-least=3,confidence=0.99" or "unpriced,missing-at-least=2"`

// ParseStrata reads strata, one a text, and gives them with the dearest first and the
// unpriced last. Every listed tool must be in one: of those with a price one is from 0 on.
// Without any that is unpriced, those without a price have the usual rule.
func ParseStrata(texts []string, currency string) (out []OwnStratum, err error) {
	for _, text := range texts {
		s, err := parseStratum(text, currency)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b OwnStratum) int {
		return cmp.Or(cmp.Compare(map[bool]int{true: 1}[a.Unpriced], map[bool]int{true: 1}[b.Unpriced]), cmp.Compare(b.From, a.From))
	})
	priced := 0
	for i, s := range out {
		if i > 0 && s.Unpriced == out[i-1].Unpriced && s.From == out[i-1].From {
			return nil, fault.New(fault.Invalid, "two strata are %s", s.over(currency)).WithHint("say it once")
		}
		if !s.Unpriced {
			priced++
		}
	}
	switch {
	case priced > mostStrata:
		return nil, fault.New(fault.Invalid, "%d strata by worth; %d are the most", priced, mostStrata)
	case priced == 0 || out[priced-1].From != 0:
		return nil, fault.New(fault.Invalid, "the cheapest tools are in no stratum").WithHint(`no tool is left out: add one that is "from=0"`)
	}
	return out, nil
}

func parseStratum(text, currency string) (s OwnStratum, err error) {
	bad := func(format string, args ...any) error {
		return fault.New(fault.Invalid, "stratum %.80q: "+format, append([]any{text}, args...)...).WithHint(stratumHint)
	}
	said := map[string]bool{}
	for token := range strings.SplitSeq(text, ",") {
		name, value, valued := strings.Cut(strings.TrimSpace(token), "=")
		name, value = strings.ToLower(strings.TrimSpace(name)), strings.TrimSpace(value)
		if said[name] {
			return s, bad("%s is said twice", name)
		}
		said[name] = true
		switch {
		case name == "unpriced" && !valued:
			s.Unpriced = true
		case name == "all" && !valued:
			s.Full = true
		case name == "from" && valued:
			m, err := units.ParseMoney(value, currency)
			if err != nil || m.Minor < 0 {
				return s, bad("%q is no amount in %s", value, currency)
			}
			s.From = m.Minor
		case name == "missing-at-least" && valued:
			if s.Missing, err = strconv.Atoi(value); err != nil || s.Missing < 1 || s.Missing > MostListed {
				return s, bad("%q is not a number of tools from 1 on", value)
			}
		case name == "confidence" && valued:
			if s.Confidence, err = strconv.ParseFloat(value, 64); err != nil || CheckConfidence(s.Confidence) != nil {
				return s, bad("confidence %q is not over 0 and under 1", value)
			}
		default:
			return s, bad("%q says nothing", strings.TrimSpace(token))
		}
	}
	switch {
	case said["from"] == said["unpriced"]:
		return s, bad("say from which worth on it is, or unpriced")
	case said["all"] == said["missing-at-least"]:
		return s, bad("say all, or how many missing ones must not be overlooked")
	case said["all"] && said["confidence"]:
		return s, bad("where all are looked for there is no confidence")
	case !said["all"] && !said["confidence"]:
		s.Confidence = 0.95
	}
	return s, nil
}

// over says which tools a stratum has, as it is typed.
func (s OwnStratum) over(currency string) string {
	if s.Unpriced {
		return "unpriced"
	}
	return "from=" + strings.TrimSuffix(units.Money{Minor: s.From, Currency: currency}.String(), " "+currency)
}

// text writes a stratum as ParseStrata reads it.
func (s OwnStratum) text(currency string) string {
	if s.Full {
		return s.over(currency) + ",all"
	}
	return fmt.Sprintf("%s,missing-at-least=%d,confidence=%s", s.over(currency), s.Missing, strconv.FormatFloat(s.Confidence, 'f', -1, 64))
}

// StrataTexts writes strata as ParseStrata reads them.
func StrataTexts(all []OwnStratum, currency string) (out []string) {
	for _, s := range all {
		out = append(out, s.text(currency))
	}
	return out
}

// OwnStrata are the strata that somebody chose for the count; nil are the usual ones.
func (c Count) OwnStrata() ([]OwnStratum, error) {
	if c.Strata == "" {
		return nil, nil
	}
	return ParseStrata(strings.Split(c.Strata, "\n"), c.Currency)
}

// classAt is what the stratum of that place, the dearest first, is called.
func classAt(i int) string { return string(rune('A' + i)) }

// ClassesOf lists the classes of strata in their order; of the usual ones for none.
func ClassesOf(own []OwnStratum) (out []string) {
	if own == nil {
		return planned[:]
	}
	for i, s := range own {
		if !s.Unpriced {
			out = append(out, classAt(i))
		}
	}
	return append(out, Unpriced)
}

// RulesOf are the rules of strata of these sizes: their own, and the usual ones where
// somebody said nothing.
func RulesOf(own []OwnStratum, sizes map[string]int) map[string]Rule {
	rules := UsualRules(sizes)
	for i, s := range own {
		if s.Unpriced {
			rules[Unpriced] = s.Rule
		} else {
			rules[classAt(i)] = s.Rule
		}
	}
	return rules
}

// StrataBy parts a list by somebody's own strata, and sizes the sample of each as Strata
// does. Of a stratum with fewer tools than must not be overlooked all are looked at.
func StrataBy(worths []Worth, own []OwnStratum) (out []Stratum, err error) {
	members, sizes := map[string][]int{}, map[string]int{}
	for i, w := range worths {
		class := Unpriced
		if w.Known {
			class = classAt(slices.IndexFunc(own, func(s OwnStratum) bool { return !s.Unpriced && w.Minor >= s.From }))
		}
		members[class] = append(members[class], i)
		sizes[class]++
	}
	rules := RulesOf(own, sizes)
	for _, class := range ClassesOf(own) {
		if sizes[class] == 0 {
			continue
		}
		rule, looks := rules[class], sizes[class]
		if !rule.Full && rule.Missing <= looks {
			if looks, err = Smallest(looks, rule.Missing, rule.Confidence); err != nil {
				return nil, err
			}
		}
		out = append(out, Stratum{class, members[class], rule, looks})
	}
	return out, nil
}

// ChosenRules says in a sentence how somebody parted the list; it is empty where nobody
// did.
func ChosenRules(own []OwnStratum, currency string) string {
	if own == nil {
		return ""
	}
	var parts []string
	for i, s := range own {
		head := "those without a price"
		if !s.Unpriced {
			head = "class " + classAt(i) + " from " + units.Money{Minor: s.From, Currency: currency}.String() + " on"
		}
		rule := "all"
		if !s.Full {
			rule = fmt.Sprintf("%d or more missing not to be overlooked, with confidence %s", s.Missing, Percent(s.Confidence))
		}
		parts = append(parts, head+": "+rule)
	}
	return "The strata and their rules were chosen: " + strings.Join(parts, "; ") + "."
}
