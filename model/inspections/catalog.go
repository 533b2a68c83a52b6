package inspections

import (
	"slices"

	"pawl/model/names"
	"pawl/model/register"
)

// Rule is one named check of the trade. Source is the rule with its clause;
// Provenance says how it is known to us: read, seen in a secondary source, or from
// memory. State, local and insurers' rules may ask for more.
type Rule struct {
	Name        string
	Every       Every
	Whose       Whose
	Source      string
	Provenance  string
	Does        string   // who may do it
	NeedsPerson bool     // who did it, and their number, must be named
	NeedsPaper  bool     // their paper must be given
	NeedsTag    bool     // the next day is read from the tool's own tag
	Also        []string // when else it is due, and what it is not
	Hazard      Hazard

	Recommended bool // not required: due only once it was made

	Gloves     bool // next by the rule on gloves
	TwelveYear bool // only for stored-pressure dry chemical with a 12-year test

	After []What // what happened, after which it is asked for whatever its next day

	kinds []string // words of kinds that are under it; none: only where it is planned
	not   []string // words of kinds that are not, although one of kinds is in them
	fits  []string // words of further kinds on which it can be made
}

// Hazard is what a caution is about.
type Hazard string

const (
	Lifting  Hazard = "lifting"
	Voltage  Hazard = "high voltage"
	Pressure Hazard = "pressure"
)

// Hydrostatic is the check whose next day is on the extinguisher's tag.
const Hydrostatic = "extinguisher hydrostatic"

// The sources are those of calibration.md 8.
var catalog = []Rule{
	{Name: "lift annual", Every: Every{Months: 12}, Whose: Consensus, NeedsPerson: true, NeedsPaper: true, Hazard: Lifting,
		Source: "ANSI/ALI ALOIM, current edition; no specific federal rule on lifts was found", Provenance: "seen in secondary sources",
		Does: "a qualified lift inspector, named with their number, who leaves a report", kinds: []string{"lift"}, not: []string{"lift table", "valve lift"}, fits: []string{"lift table", "hoist", "ramp"},
		After: []What{Dropped, Overloaded, Damaged, FoundFailed, Repaired},
		Also:  []string{"Also after repair, relocation or impact (from memory, unverified). Nobody reports a relocation as something wrong: ask for the inspection again, with what happened.", "The operator looks at it before use each day: report what is wrong; there is nothing to tick."}},
	{Name: "jack six-month", Every: Every{Months: 6}, Whose: Federal, NeedsPerson: true, Hazard: Lifting,
		Source: "29 CFR 1910.244(a)(2)(vi)(a), constant or intermittent use at one locality", Provenance: "read",
		Does: "somebody who knows the jack, named", kinds: []string{"jack"}, not: []string{"jack stand"},
		After: []What{Dropped, Overloaded, Damaged, SentOut, CameBack},
		Also: []string{"Also when it is sent out of the shop for special work and when it comes back; immediately before and after an abnormal load or shock.",
			"Out of order: tagged, and not used."}},
	{Name: "stand annual", Every: Every{Months: 12}, Whose: Consensus, NeedsPerson: true, Hazard: Lifting, Recommended: true,
		Source: "ASME PALD-2009 3.3, recommended; carried into PASE (from memory, unverified)", Provenance: "read in an excerpt",
		Does: "a facility authorized by its maker or seller", kinds: []string{"jack stand", "axle stand"}, fits: []string{"stand", "jack", "crane", "hoist"},
		Also: []string{"Recommended, not required.", "Looked at before each use, and immediately after an abnormal load or shock."}},
	{Name: "chain sling 12-month", Every: Every{Months: 12}, Whose: Federal, NeedsPerson: true, Hazard: Lifting,
		Source: "29 CFR 1910.184(e)(3), alloy steel chain slings: never above 12 months; the most recent month is kept on record", Provenance: "seen in a secondary source",
		Does: "a competent person, named", kinds: []string{"chain sling"}, fits: []string{"sling", "chain"},
		Also: []string{"Every sling is looked at by a competent person each day before use (1910.184(d)): report what is wrong; there is nothing to tick."}},
	{Name: "glove electrical test", Every: Every{Months: 6}, Whose: Federal, NeedsPerson: true, NeedsPaper: true, Hazard: Voltage, Gloves: true,
		Source: "29 CFR 1910.137(c)(2), with the project's rule on first issue", Provenance: "read in letters of interpretation of 2019 and, in part, 2020",
		Does: "a test laboratory, named, with its paper", kinds: []string{"glove"},
		After: []What{Doubtful, Damaged, FoundFailed, Repaired},
		Also: []string{"Also on suspicion, after repair, and after use without protectors.",
			"Looked at and air-tested before each day's use and after any incident: report what is wrong; it moves no date."}},
	{Name: "blanket and sleeve electrical test", Every: Every{Months: 12}, Whose: Federal, NeedsPerson: true, NeedsPaper: true, Hazard: Voltage,
		Source: "29 CFR 1910.137(c)(2), before first issue and every 12 months", Provenance: "seen in a secondary source",
		Does: "a test laboratory, named, with its paper", kinds: []string{"insulating blanket", "insulating sleeve"}, fits: []string{"blanket", "sleeve"},
		After: []What{Doubtful, Damaged, FoundFailed, Repaired},
		Also:  []string{"Also on suspicion and after repair (from memory, unverified)."}},
	{Name: "extinguisher monthly", Every: Every{Months: 1}, Whose: Federal, Hazard: Pressure,
		Source: "29 CFR 1910.157(e)(2), a look each month", Provenance: "seen in secondary sources",
		Does: "anybody in the shop", kinds: []string{"extinguisher"},
		Also: []string{"The rule asks for no record of it; the day and who are kept all the same."}},
	{Name: "extinguisher annual", Every: Every{Months: 12}, Whose: Federal, NeedsPerson: true, Hazard: Pressure,
		Source: "29 CFR 1910.157(e)(3); the record is kept 1 year after the last entry or for the life of the shell, whichever is less", Provenance: "seen in secondary sources",
		Does: "whoever maintains extinguishers, named", kinds: []string{"extinguisher"}},
	{Name: "extinguisher six-year", Every: Every{Months: 72}, Whose: Federal, NeedsPerson: true, Hazard: Pressure, TwelveYear: true, fits: []string{"extinguisher"},
		Source: "29 CFR 1910.157(e)(4), stored-pressure dry chemical that needs a 12-year hydrostatic test: emptied and maintained", Provenance: "seen in secondary sources",
		Does: "whoever maintains extinguishers, named"},
	{Name: Hydrostatic, Whose: Federal, NeedsPerson: true, NeedsTag: true, Hazard: Pressure, fits: []string{"extinguisher"},
		Source: "29 CFR 1910.157(f); the day is read from the tag", Provenance: "from memory, unverified",
		Does: "a test shop, named"},
	{Name: "eyewash weekly", Every: Every{Days: 7}, Whose: Consensus,
		Source: "ANSI/ISEA Z358.1-2014 7.5.2: activated weekly", Provenance: "seen in a secondary source",
		Does: "anybody in the shop", kinds: []string{"eyewash"}, fits: eyewashes},
	{Name: "eyewash annual", Every: Every{Months: 12}, Whose: Consensus, NeedsPerson: true,
		Source: "ANSI/ISEA Z358.1-2014 7.5.5; federal 1910.151(c) only asks for suitable facilities", Provenance: "seen in a secondary source",
		Does: "somebody who knows the standard, named", kinds: []string{"eyewash"}, fits: eyewashes},
}

// eyewashes are further names of what is tested as an eyewash is.
var eyewashes = []string{"eye wash", "shower", "drench hose"}

// Catalog gives the named checks of the trade.
func Catalog() []Rule { return slices.Clone(catalog) }

// Named finds a check of the catalog by its name in any case.
func Named(name string) (Rule, bool) {
	i := slices.IndexFunc(catalog, func(r Rule) bool { return names.Key(r.Name) == names.Key(name) })
	if i < 0 {
		return Rule{}, false
	}
	return catalog[i], true
}

// Expected says whether tools of that kind are under the rule without anybody
// saying so.
func (r Rule) Expected(kind string) bool {
	return register.Says(kind, r.kinds...) && !register.Says(kind, r.not...)
}

// Fits says whether the check can be made on tools of that kind at all.
func (r Rule) Fits(kind string) bool {
	return r.Expected(kind) || register.Says(kind, r.fits...)
}

// Fitting names the checks of the catalog that can be made on tools of that kind.
func Fitting(kind string) (out []string) {
	for _, r := range catalog {
		if r.Fits(kind) {
			out = append(out, r.Name)
		}
	}
	return out
}

// ExpectedOf says whether a tool of that kind is under any check of the catalog.
func ExpectedOf(kind string) bool {
	return slices.ContainsFunc(catalog, func(r Rule) bool { return r.Expected(kind) })
}

var cautions = map[Hazard]string{
	Lifting: "An inspection date is not permission. Look before each use; keep to the rated load and the vehicle maker's lifting points; " +
		"never go under a vehicle held by a jack alone. The vehicle maker's service information, local rules and the lift maker's instructions come first.",
	Voltage: "High voltage: trained people only, with the vehicle maker's shutdown and wait. Gloves in test date, air-tested before each use, with protectors, " +
		"of the class that the vehicle maker's service information asks for.",
	Pressure: "It is under pressure: only whoever is trained for it opens, fills or tests it. The maker's instructions and local rules come first.",
}

// Cautions gives what stands beside everything that is shown of these checks.
func Cautions(checks []Check) (out []string) {
	for _, h := range []Hazard{Lifting, Voltage, Pressure} {
		if slices.ContainsFunc(checks, func(c Check) bool { return c.Hazard == h }) {
			out = append(out, cautions[h])
		}
	}
	return out
}
