package model

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"pawl/labels"
	"pawl/model/dates"
	"pawl/model/markings"
	"pawl/model/register"
	"pawl/model/units"
)

// markingAdvice says in words what to do about a marking; NUMBER stands for the tool's,
// READING for what was read of it last.
var markingAdvice = map[markings.Advice]string{
	markings.AdviceLookAgain:      "A grade rose although nothing says that it was marked anew: look again, and record a new marking if there is one.",
	markings.AdviceLookNow:        "Look at it now: pawl marking NUMBER --grade … --read … --photo plate=FILE",
	markings.AdvicePhotographNow:  "Photograph the serial now, while it can be read: pawl evidence add NUMBER --photo plate=FILE",
	markings.AdvicePhotoFirst:     "Photograph it before any cleaning: brake cleaner takes print off.",
	markings.AdviceMatch:          "A character is lost. What is left may still say which tool it is: pawl match READING. A guess never becomes a serial.",
	markings.AdviceTape:           "Put clear tape over the clean, dry marking, after the photo, and record it: pawl marking NUMBER --protection \"clear tape\"",
	markings.AdviceOwnersNumber:   "Give it a permanent number of its owner's, of a sort that a police register accepts: pawl marking NUMBER --owners-number … --method … --where …",
	markings.AdviceNeverEngrave:   "Never engrave, file, etch or heat-mark a part that measures, insulates, carries load or pressure, or a battery; ask whether marking ends a warranty.",
	markings.AdviceNeverMark:      "Never label, tape or mark this kind of thing: its bag or box takes the label and the number.",
	markings.AdviceNeverRecut:     "Never re-cut, restamp or alter the maker's serial: an owner's number goes beside it.",
	markings.AdvicePhotographBoth: "Photograph both, the maker's serial and the owner's number.",
}

// markingWords puts advice into words; read is what was read last, empty for nothing.
func markingWords(all []markings.Advice, number, read string) []string {
	reading := "READING"
	if read != "" {
		reading = "'" + read + "'" // a reading has no quotes
	}
	out := []string{}
	for _, a := range all {
		out = append(out, strings.ReplaceAll(strings.ReplaceAll(markingAdvice[a], "NUMBER", number), "READING", reading))
	}
	return out
}

// Words says in one sentence how long a marking will be readable.
func (f MarkingForecast) Words() string {
	switch {
	case f.Why != "":
		return "no forecast: " + f.Why
	case f.Lost:
		return "lost: at grade " + strconv.FormatInt(*f.Grade, 10) + " the serial is no longer complete, so no date is given"
	}
	day := func(d dates.Date) string {
		if d == "" {
			return "more than 10 years from then"
		}
		return string(d)
	}
	return fmt.Sprintf("a character is lost by %s as likely as not, by %s with a chance of 10 %%, by %s with one of 90 %%; the chance that it is so today is %s; %s",
		day(f.Expected), day(f.Early), day(f.Late), markings.ChanceWords(*f.UnreadableToday), f.FromWords())
}

// whyWords says why there is no forecast, and what to do.
func (f MarkingForecast) whyWords(t register.Tool, m markings.Marking) string {
	switch f.WhyNot {
	case MarkingEnded:
		return "this marking ended on " + string(m.Ended)
	case GradesInDoubt:
		return "the last look gave grade " + strconv.FormatInt(*f.Grade, 10) + ", and by those before it a character was lost: look again, and where it was marked anew record that: pawl marking " + t.Number.String() + " --remark METHOD"
	case MethodUnknown:
		return "how the serial is marked is not on record: pawl edit " + t.Number.String() + " --marking printed, or another of " + markings.MethodsInWords()
	case NeverLooked:
		return "nobody has looked at it, and nobody knows when it was new: look at it and give a grade"
	case BoughtUsed:
		return "nobody has looked at it, and it was bought used, so nobody knows how worn it was then: look at it and give a grade"
	case CameInExchange:
		return "nobody has looked at it, and it came in exchange for another, maybe not new: look at it and give a grade"
	case WearUnknown:
		return "nothing is known of how a marking that is " + string(m.Method) + " wears: look at it once a year"
	}
	return ""
}

// onPaper says it as short as the sheet of a round has room for.
func (f MarkingForecast) onPaper() string {
	switch {
	case f.Lost:
		return "Lost: a character is gone already."
	case f.Why != "":
		why, _, _ := strings.Cut(f.Why, ": ")
		return "NOT KNOWN how long it stays readable: " + why + "."
	}
	text := "Expected to last more than 10 years"
	if f.Expected != "" {
		text = "Expected to lose a character by " + string(f.Expected)
	}
	text += "; chance that one is lost already: " + markings.ChanceWords(*f.UnreadableToday)
	if f.Assumed {
		text += "; assumed to have been crisp when new"
	}
	if f.LearnedFrom == 0 {
		return text + "; the rate is assumed."
	}
	return text + "; the rate is learned here."
}

// FromWords says what a forecast rests on.
func (f MarkingForecast) FromWords() string {
	rests := "the rate is assumed"
	switch {
	case f.LearnedFrom == 1:
		rests = "the rate is learned from 1 other tool of its kind"
	case f.LearnedFrom > 1:
		rests = fmt.Sprintf("the rate is learned from %d other tools of its kind", f.LearnedFrom)
	}
	if f.Assumed {
		was := "crisp when it was made"
		if f.BoughtNew {
			was = "bought new, and crisp then"
		}
		if f.AsOf != "" {
			was += ", on " + string(f.AsOf)
		}
		rests += "; nobody has looked yet, and it is assumed to have been " + was
	}
	if f.NoUsage {
		rests += "; how often the tool is used is not on record, and daily use is assumed"
	}
	return rests
}

// WriteRound draws the whole round as a PDF to be carried along.
func (s *Shop) WriteRound(ctx context.Context, by By, w io.Writer) error {
	var sheet labels.MarkingRound
	err := s.read(ctx, func(d *directory) error {
		r, err := d.round(ctx, by)
		if err != nil {
			return err
		}
		rows, err := r.named(r.rows)
		if err != nil {
			return err
		}
		sheet, err = d.roundSheet(r.view, rows)
		if err != nil {
			return err
		}
		sheet.As, err = d.clockTime(dates.InstantOf(s.clock()))
		return err
	})
	if err != nil {
		return err
	}
	return sheet.PDF(w)
}

func (d *directory) roundSheet(v RoundView, rows []RoundRow) (labels.MarkingRound, error) {
	sheet := labels.MarkingRound{Shop: d.settings.Name, Paper: string(d.settings.Paper), Of: units.Count(len(rows), "marking")}
	month, err := time.Parse(time.DateOnly, string(v.Today))
	if err != nil {
		return sheet, err
	}
	sheet.Month = month.Format("January 2006")
	if v.Unmarked > 0 {
		sheet.Of += "; not among them: " + units.Count(v.Unmarked, "tool") + " with a serial of which nobody recorded how it is marked"
	}
	said := map[string]bool{}
	for _, row := range rows {
		title := row.Place
		if title == "" {
			title = "No place on record"
		}
		if n := len(sheet.Places); n == 0 || sheet.Places[n-1].Title != title {
			sheet.Places = append(sheet.Places, labels.RoundPlace{Title: title})
		}
		at := &sheet.Places[len(sheet.Places)-1]
		at.Rows = append(at.Rows, d.sheetRow(row))
		for _, c := range register.Cautions(row.Kind) {
			if !said[c] {
				said[c] = true
				sheet.Cautions = append(sheet.Cautions, c)
			}
		}
	}
	return sheet, nil
}

func (d *directory) sheetRow(row RoundRow) labels.RoundRow {
	out := labels.RoundRow{Symbol: row.Number.Symbol(d.settings.Address), Number: row.Number.String(), Rank: row.Rank,
		What: strings.TrimSpace(row.Kind + ", " + strings.TrimSpace(row.Maker+" "+row.Model))}
	out.What = strings.TrimSuffix(out.What, ",")
	out.Marking = string(row.Marking.Method)
	if row.Marking.Spot != "" {
		out.Marking += ", " + row.Marking.Spot
	}
	out.Marking += "; protection: " + cmp.Or(string(row.Marking.Protection), "not recorded")
	f := row.Forecast
	if row.LastLook != "" {
		out.Last = string(row.LastLook)
		if f.Grade != nil {
			out.Last += fmt.Sprintf(": grade %d", *f.Grade)
		}
	}
	out.Forecast = f.onPaper()
	var do []string
	if f.Reckoned.Rose {
		do = append(do, "Its grade rose: look again.")
	}
	if slices.Contains(row.Reasons, markings.ActNow) && register.TakesLabel(row.Kind) { // gloves and the like are never taped or marked
		do = append(do, "Protect it, or add an owner's number, now.")
	}
	out.Do = strings.Join(do, " ")
	return out
}
