package model

import (
	"context"
	"slices"

	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/register"
	"pawl/model/worth"
)

// GapRow is a tool that could not be proven today, with what is missing.
type GapRow struct {
	WorthTool
	Gaps []worth.Gap // the best to mend first
}

// GapsView is what could not be proven today, dearest first.
type GapsView struct {
	Currency string
	Rows     []GapRow
	More     int    // that are not listed after them
	Next     string // cursor of the next page; empty: this is the last
	Tools    int    // looked at
	Proven   int    // nothing is missing
	AtStake  int64
	Unpriced int            // with gaps and no figure: in no amount
	Hidden   int            // tools of others, not looked at
	Missing  map[string]int // tools by gap
}

// GapsQuery says which page of the gaps is asked for.
type GapsQuery struct {
	Limit  int // of tools on a page
	Cursor string
}

// Gaps gives what is missing to prove the tools whose papers the asker may see, with
// one page of tools.
func (s *Shop) Gaps(ctx context.Context, by By, q GapsQuery) (v GapsView, err error) {
	err = s.gaps(ctx, by, q, func(head GapsView) error { v = head; return nil }, func(some []GapRow) error {
		v.Rows = append(v.Rows, some...)
		return nil
	})
	return v, err
}

// GapsStream hands over the sums, then every tool that lacks something, dearest
// first, so that no more than a few are held at once.
func (s *Shop) GapsStream(ctx context.Context, by By, head func(GapsView) error, each func([]GapRow) error) error {
	return s.gaps(ctx, by, GapsQuery{}, head, each)
}

func (s *Shop) gaps(ctx context.Context, by By, q GapsQuery, head func(GapsView) error, each func([]GapRow) error) error {
	return s.read(ctx, func(d *directory) error {
		v, err := d.valuer(by, WorthQuery{})
		if err != nil {
			return err
		}
		sums, list := GapsView{Currency: d.settings.Currency, Missing: map[string]int{}}, ranking{}
		if err := v.each(ctx, func(tools []register.Tool, some []WorthTool) error {
			lacking, err := s.lacking(d, tools, some)
			if err != nil {
				return err
			}
			for i, w := range some {
				if sums.add(w, lacking[i]) {
					list.add(w)
				}
			}
			return nil
		}); err != nil {
			return err
		}
		list.sort()
		page, more, next, err := list.page("gaps", q.Cursor, q.Limit)
		if err != nil {
			return err
		}
		sums.More, sums.Next = more, next
		if err := head(sums); err != nil {
			return err
		}
		return v.listed(ctx, page, func(some []WorthTool) error { return s.gapRows(d, some, each) })
	})
}

// gapRows finds again what tools lack.
func (s *Shop) gapRows(d *directory, some []WorthTool, each func([]GapRow) error) error {
	tools := make([]register.Tool, len(some))
	for i, w := range some {
		tools[i] = w.Tool
	}
	lacking, err := s.lacking(d, tools, some)
	if err != nil {
		return err
	}
	rows := make([]GapRow, len(some))
	for i, w := range some {
		rows[i] = GapRow{w, lacking[i]}
	}
	return each(rows)
}

// lacking says what each of the tools lacks.
func (s *Shop) lacking(d *directory, tools []register.Tool, some []WorthTool) ([][]worth.Gap, error) {
	known, err := d.known(tools, s.views.Converts())
	if err != nil {
		return nil, err
	}
	out := make([][]worth.Gap, len(tools))
	for i, w := range some {
		known[i].Priced = w.Cost != nil || w.Foreign
		out[i] = worth.Missing(known[i])
	}
	return out, nil
}

// add counts a tool; it says whether it lacks something and is to be listed.
func (v *GapsView) add(w WorthTool, missing []worth.Gap) bool {
	if w.Tool.FromOutside() {
		return false // theirs to prove
	}
	if !w.Shown {
		v.Hidden++
		return false
	}
	v.Tools++
	if len(missing) == 0 {
		v.Proven++
		return false
	}
	if w.Cost != nil {
		v.AtStake += w.Cost.Amount
	} else {
		v.Unpriced++
	}
	for _, g := range missing {
		v.Missing[string(g)]++
	}
	return true
}

// known gathers what is on record of tools, with one query of each sort. Where a
// converter is set, a HEIC can be shown. Looks are asked for where the shop has begun to
// make them, a number of the owner's where the maker's serial will soon be lost.
func (d *directory) known(tools []register.Tool, converts bool) ([]worth.Known, error) {
	ids := make([]string, len(tools))
	for i, t := range tools {
		ids[i] = t.ID
	}
	photos, err := d.ShownOf(ids)
	if err != nil {
		return nil, err
	}
	wear, err := d.wearOf(tools)
	if err != nil {
		return nil, err
	}
	looks, err := d.Looks()
	if err != nil {
		return nil, err
	}
	wrongs, err := d.OpenWrongsOf(ids)
	if err != nil {
		return nil, err
	}
	out := make([]worth.Known, len(tools))
	for i, t := range tools {
		m, marked := markings.Current(wear.markings[t.ID])
		out[i] = worth.Known{Tool: t, Marked: marked && m.Method != "", Unguarded: unguarded(m),
			Labelled: t.Number != numbers.Number("") && !slices.ContainsFunc(wrongs[t.ID], func(w custody.Wrong) bool { return w.What == custody.LabelGone })}
		if looks && marked {
			out[i].Look, out[i].OwnersNumber = wear.look(t, m)
		}
		for _, p := range photos[t.ID] {
			if evidence.CanShow(p.MediaType, p.Width, p.Height, converts) && d.shows(p.SHA256) {
				out[i].Photos = append(out[i].Photos, p.Kind)
			} else {
				out[i].Unshown = append(out[i].Unshown, p.Kind)
			}
		}
	}
	return out, nil
}

// look says what the looks at a tool's marking come to, and whether a number of the
// owner's, where one is wanted, is on it. It goes by what is assumed of every class: the
// gaps are of one tool, and are gone through for a million.
func (w *wear) look(t register.Tool, m markings.Marking) (*worth.Look, *bool) {
	f := w.history(t, m).Forecast(markings.AssumedPrior(), w.today)
	looked := f.Standing != markings.NeverLooked && !f.New
	lost := f.Standing == markings.IsLost
	look := &worth.Look{Done: looked && (lost || !w.today.After(f.NextPhoto)), Fading: looked && f.Protect, Lost: lost, Photo: w.lastOf(m).Evidence != ""}
	if has := markings.HasOwnersNumber(w.markings[t.ID]); has || look.Fading {
		return look, &has
	}
	return look, nil
}

// unguarded says that a marking wears off and nothing protects it.
func unguarded(m markings.Marking) bool {
	return (m.Method == "printed" || m.Method == "sticker") && (m.Protection == "" || m.Protection == "none")
}

// GapCount is how many tools lack one thing.
type GapCount struct {
	Gap   worth.Gap
	Tools int
}

// Counts gives how many tools lack each thing, the best to mend first.
func (v GapsView) Counts() (out []GapCount) {
	for _, g := range worth.Gaps {
		if n := v.Missing[string(g)]; n > 0 {
			out = append(out, GapCount{g, n})
		}
	}
	return out
}
