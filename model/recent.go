package model

import (
	"context"

	"pawl/model/people"
	"pawl/model/register"
)

// Recent gives the last lines about a tool, newest first, without what the asker
// may not see. At most 200 are given; 0 is 50.
func (s *Shop) Recent(ctx context.Context, by By, number string, limit int) (lines []LineView, err error) {
	if limit, err = pageLimit(limit); err != nil {
		return nil, err
	}
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		entries, err := d.Recent(t.ID, limit)
		if err != nil {
			return err
		}
		shown := people.May(by.Actor, people.SeeMoney, d.object(t))
		for _, e := range entries {
			v, err := d.line(by, e, shown)
			if err != nil {
				return err
			}
			lines = append(lines, v)
		}
		return nil
	})
	return lines, err
}
