package cli

import (
	"context"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

func (p *program) gapsCommand() *cli.Command {
	return &cli.Command{
		Name: "gaps", Usage: "list what could not be proven today, dearest first",
		Description: `pawl gaps
pawl gaps --limit 10`,
		Flags:  []cli.Flag{limit()},
		Action: action(p, wholeFlag("limit"), runGaps),
	}
}

// runGaps lists all, or so many: pages are followed, and all of them come as one
// stream.
func runGaps(ctx context.Context, s *session, most int) error {
	if s.json && most == 0 {
		return s.client.GapsWhole(ctx, s.out)
	}
	v, err := gapsOf(ctx, s, most)
	if err != nil {
		return err
	}
	if !s.json {
		said := strconv.Itoa(v.Looked-v.Proven) + " of " + strconv.Itoa(v.Looked) + " tools could not be proven today in full: " + v.AtStake + " at stake"
		if v.Unpriced > 0 {
			said += ", and " + strconv.Itoa(v.Unpriced) + " without a price"
		}
		if v.Hidden > 0 {
			said += "; " + strconv.Itoa(v.Hidden) + " of others are theirs to look at"
		}
		s.note(append([]string{said}, v.Cautions...)...)
	}
	return list(ctx, s, v, []string{"NUMBER", "KIND", "OWNER", "AT STAKE", "MISSING", "NEXT"}, v.Tools, func(g wire.GapTool) []string {
		return []string{g.Number, g.Kind, g.Owner, text(g.AtStake), strings.Join(g.Missing, ", "), g.Next}
	})
}

func gapsOf(ctx context.Context, s *session, most int) (v wire.Gaps, err error) {
	if most == 0 {
		return s.client.GapsAll(ctx)
	}
	if v, err = s.client.Gaps(ctx, min(most, mostListed), ""); err != nil {
		return v, err
	}
	for len(v.Tools) < most && v.Next != nil {
		page, err := s.client.Gaps(ctx, min(most-len(v.Tools), mostListed), *v.Next)
		if err != nil {
			return v, err
		}
		v.Tools, v.More, v.Next = append(v.Tools, page.Tools...), page.More, page.Next
	}
	return v, nil
}
