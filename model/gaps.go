package model

import (
	"context"
	"slices"

	"pawl/model/custody"
	"pawl/model/internal/store"
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
	More     int // that are not listed
	Tools    int // looked at
	Proven   int // nothing is missing
	AtStake  int64
	Unpriced int            // with gaps and no figure: in no amount
	Hidden   int            // tools of others, not looked at
	Missing  map[string]int // tools by gap
}

// Gaps gives what is missing to prove the tools whose papers the asker may see.
func (s *Shop) Gaps(ctx context.Context, by By, limit int) (v GapsView, err error) {
	v.Missing = map[string]int{}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		v.Currency = d.settings.Currency
		return d.worthOf(ctx, by, store.ToolQuery{}, func(tools []register.Tool, some []WorthTool) error {
			known, err := d.known(tools)
			if err != nil {
				return err
			}
			for i, w := range some {
				v.add(w, known[i])
			}
			return nil
		})
	})
	slices.SortStableFunc(v.Rows, func(a, b GapRow) int { return dearest(a.WorthTool, b.WorthTool) })
	if limit > 0 && len(v.Rows) > limit {
		v.More, v.Rows = len(v.Rows)-limit, v.Rows[:limit]
	}
	return v, err
}

func (v *GapsView) add(w WorthTool, k worth.Known) {
	if w.Tool.FromOutside() {
		return // theirs to prove
	}
	if !w.Shown {
		v.Hidden++
		return
	}
	v.Tools++
	k.Priced = w.Cost != nil || w.Foreign
	missing := worth.Missing(k)
	if len(missing) == 0 {
		v.Proven++
		return
	}
	if w.Cost != nil {
		v.AtStake += w.Cost.Amount
	} else {
		v.Unpriced++
	}
	for _, g := range missing {
		v.Missing[string(g)]++
	}
	v.Rows = append(v.Rows, GapRow{w, missing})
}

// known gathers what is on record of tools, with one query of each sort.
func (d *directory) known(tools []register.Tool) ([]worth.Known, error) {
	ids := make([]string, len(tools))
	for i, t := range tools {
		ids[i] = t.ID
	}
	photos, err := d.KindsOfEvidence(ids)
	if err != nil {
		return nil, err
	}
	marks, err := d.FirstMarkings(ids)
	if err != nil {
		return nil, err
	}
	wrongs, err := d.OpenWrongsOf(ids)
	if err != nil {
		return nil, err
	}
	out := make([]worth.Known, len(tools))
	for i, t := range tools {
		m, marked := marks[t.ID]
		out[i] = worth.Known{Tool: t, Photos: photos[t.ID], Marked: marked && m.Method != "", Unguarded: unguarded(m),
			Labelled: t.Number != numbers.Number("") && !slices.ContainsFunc(wrongs[t.ID], func(w custody.Wrong) bool { return w.What == custody.LabelGone })}
	}
	return out, nil
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
