package model

import (
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/settings"
)

// On the night on which an hour occurs twice, and on the one on which an hour is left
// out, acts keep their order, the clock is not in doubt, and a time that somebody types
// is refused where it could mean two or none. In New York the clocks go back on
// 1 November 2026 at 06:00 UTC and forward on 14 March 2027 at 07:00 UTC (IANA time zone database;
// 15 U.S.C. 260a).
func TestActsThroughADaylightSavingNight(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		zone := "America/New_York"
		if _, err := g.ChangeSettings(ctx, g.boss, AnyRevision, settings.Change{Zone: &zone}); err != nil {
			t.Fatal(err)
		}
		n := g.tool(t)
		for _, night := range []struct {
			name     string
			changes  time.Time // UTC
			happened string
		}{
			{"an hour occurs twice", time.Date(2026, 11, 1, 6, 0, 0, 0, time.UTC), "2026-11-01T01:30"},
			{"an hour is left out", time.Date(2027, 3, 14, 7, 0, 0, 0, time.UTC), "2027-03-14T02:30"},
		} {
			g.clock.advance(night.changes.Add(-30 * time.Minute).Sub(g.clock.Now()))
			before := g.lines(t)
			if _, err := g.Take(ctx, g.techA, n, Take{}); err != nil {
				t.Fatalf("%s: %v", night.name, err)
			}
			g.clock.advance(time.Hour) // on the wall it is the same hour again, or two later
			if v, err := g.ClockState(ctx); err != nil || v.Doubtful {
				t.Errorf("%s: the clock is in doubt: %+v, %v", night.name, v, err)
			}
			if _, err := g.Return(ctx, g.techA, n, Return{}); err != nil {
				t.Fatalf("%s: %v", night.name, err)
			}
			if g.lines(t) < before+2 {
				t.Errorf("%s: an act left no line", night.name)
			}
			g.clock.advance(12 * time.Hour)
			_, err := g.Wrong(ctx, g.techA, n, Wrong{What: "dropped", Happened: night.happened})
			if f := fault.Of(err); f == nil || f.Kind != fault.Invalid {
				t.Errorf("%s: %s is taken: %v", night.name, night.happened, err)
			}
		}
	})
}
