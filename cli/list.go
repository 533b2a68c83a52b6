package cli

import (
	"context"
	"errors"

	"github.com/urfave/cli/v2"
)

// limit is the flag of lists; without it all is listed.
func limit() cli.Flag { return value("limit", "no more than `N`; else all") }

// pageOf is how many rows to ask for at once; the server gives 200 at most.
func pageOf(most int) int { return min(most, 200) }

// errEnough ends a list that is as long as was asked for.
var errEnough = errors.New("enough")

// gather has all call it with every row of a list, and keeps them until there are
// as many as asked for; 0 is all. No rows are an empty list, not null.
func gather[R any](most int, all func(each func(R) error) error) ([]R, error) {
	rows := []R{}
	err := all(func(r R) error {
		if rows = append(rows, r); len(rows) == most {
			return errEnough
		}
		return nil
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return rows, err
}

// list prints rows as a table, with the shop's clock; --json prints the whole
// answer that they are of.
func list[R any](ctx context.Context, s *session, whole any, headings []string, rows []R, cells func(R) []string) error {
	if s.json {
		return s.object(whole)
	}
	return s.table(headings, cellsOf(rows, cells))
}

func cellsOf[R any](rows []R, cells func(R) []string) [][]string {
	var all [][]string
	for _, r := range rows {
		all = append(all, cells(r))
	}
	return all
}
