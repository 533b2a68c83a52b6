package model

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"pawl/model/register"
)

// What was seen in a place last and belongs elsewhere is told there, until it is seen
// somewhere else, changes hands, leaves, or its record is mended; who counts a bay finds
// nothing astray in it that belongs in one of its drawers.
func TestSeenHereAndBelongsElsewhere(t *testing.T) {
	cases := []struct {
		name, home, at string // at: where the count looks; what is told is asked of Bay 2/Box
		then           func(t *testing.T, g *garage, count, number string)
		listed         bool
	}{
		{"seen there", "Bay 1/Cart", "Bay 2/Box", nil, true},
		{"of the bay that the box is in", "Bay 2", "Bay 2/Box", nil, true},
		{"of no place", "", "Bay 2/Box", nil, true},
		{"at home", "Bay 2/Box", "Bay 2/Box", nil, false},
		{"in a drawer of it", "Bay 2/Box/Drawer 1", "Bay 2/Box", nil, false},
		{"seen in its place after that", "Bay 1/Cart", "Bay 2/Box", func(t *testing.T, g *garage, count, number string) {
			g.look(t, g.techA, g.count(t, StartCount{}).ID, "seen", ScanCount{Scanned: number, At: "Bay 1/Cart"})
		}, false},
		{"seen after that, where is not said", "Bay 1/Cart", "Bay 2/Box", func(t *testing.T, g *garage, _, number string) {
			g.look(t, g.techA, g.count(t, StartCount{}).ID, "seen", ScanCount{Scanned: number})
		}, false},
		{"taken after that", "Bay 1/Cart", "Bay 2/Box", func(t *testing.T, g *garage, _, number string) {
			g.must(t)(g.Take(ctx, g.techA, number, Take{}))
		}, false},
		{"taken and returned after that", "Bay 1/Cart", "Bay 2/Box", func(t *testing.T, g *garage, _, number string) {
			g.must(t)(g.Take(ctx, g.techA, number, Take{}))
			g.clock.advance(time.Minute)
			g.must(t)(g.Return(ctx, g.techA, number, Return{}))
		}, false},
		{"the record is mended", "Bay 1/Cart", "Bay 2/Box", func(t *testing.T, g *garage, count, number string) {
			if _, err := g.SettleDifference(ctx, g.boss, count, SettleDifference{Number: number, How: "record mended", At: "Bay 2/Box"}); err != nil {
				t.Fatal(err)
			}
		}, false},
		{"not seen, and found there when it was settled", "Bay 1/Cart", "", func(t *testing.T, g *garage, count, number string) {
			if _, err := g.SettleDifference(ctx, g.boss, count, SettleDifference{Number: number, How: "found", At: "Bay 2/Box"}); err != nil {
				t.Fatal(err)
			}
		}, true},
		{"gone", "Bay 1/Cart", "Bay 2/Box", func(t *testing.T, g *garage, _, number string) {
			g.must(t)(g.Gone(ctx, g.boss, number, Gone{Why: "scrapped"}))
		}, false},
	}
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.AddPlace(ctx, g.boss, "Bay 2/Box/Drawer 1"); err != nil {
			t.Fatal(err)
		}
		for _, c := range cases {
			t.Run(strings.ReplaceAll(c.name, " ", "-"), func(t *testing.T) {
				number := g.tool(t, func(n *register.New) {
					if c.home != "" {
						n.Place = ptr(c.home)
					}
				})
				g.clock.advance(time.Minute)
				count := g.count(t, StartCount{}).ID
				g.clock.advance(time.Minute)
				if c.at != "" {
					if _, err := g.ScanCount(ctx, g.techA, count, ScanCount{Scanned: number, At: c.at}); err != nil {
						t.Fatal(err)
					}
				}
				g.clock.advance(time.Minute)
				if c.then != nil {
					c.then(t, g, count, number)
				}
				s, listed := g.seenAt(t, "Bay 2/Box", number)
				if listed != c.listed {
					t.Fatalf("%+v; that it is listed is to be %t", s, c.listed)
				}
				by := "Tech A"
				if c.at == "" {
					by = "Demo garage"
				}
				if listed && (s.Place != c.home || s.SeenIn != count || s.SeenBy != by || s.SeenAt == 0) {
					t.Errorf("%+v", s)
				}
				if s, listed := g.seenAt(t, "Bay 2", number); listed {
					t.Errorf("in the bay that the box is in: %+v", s)
				}
			})
		}
		var pdf bytes.Buffer
		if err := g.DrawerSheetPDF(ctx, g.boss, "Bay 2", true, false, &pdf); err != nil || !bytes.HasPrefix(pdf.Bytes(), []byte("%PDF-")) {
			t.Errorf("%d bytes, %v", pdf.Len(), err)
		}
	})
}

// The sheet of a drawer says of a tool that was seen there and belongs elsewhere who has
// it by the record, and that it is not complete.
func TestDrawerSheetOfWhatIsOutAndSeenHere(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.AddPlace(ctx, g.boss, "Bay 2/Box"); err != nil {
			t.Fatal(err)
		}
		out := g.tool(t, placed("Bay 1/Cart"))
		set := g.tool(t, placed("Bay 1/Cart"), func(n *register.New) { n.Pieces = &register.Pieces{{Name: "socket", Count: 3}} })
		g.must(t)(g.Take(ctx, g.techB, out, Take{}))
		g.must(t)(g.Take(ctx, g.techB, set, Take{}))
		g.clock.advance(time.Minute)
		g.must(t)(g.Return(ctx, g.techB, set, Return{Missing: []string{"socket"}}))
		g.clock.advance(time.Minute)
		c := g.count(t, StartCount{})
		for _, number := range []string{out, set} {
			if _, err := g.ScanCount(ctx, g.techA, c.ID, ScanCount{Scanned: number, At: "Bay 2/Box"}); err != nil {
				t.Fatal(err)
			}
		}
		v, err := g.Place(ctx, g.boss, "Bay 2/Box")
		if err != nil {
			t.Fatal(err)
		}
		says := map[string]string{}
		if err := g.read(ctx, func(d *directory) error {
			sheet, err := d.drawerSheet(v)
			for _, r := range sheet.Rows {
				says[r.Number] = r.Now
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		if now := says[out]; !strings.HasPrefix(now, "Home: Bay 1/Cart; seen ") || !strings.HasSuffix(now, "; by the record out: Tech B") {
			t.Errorf("out: %q", now)
		}
		if now := says[set]; !strings.HasPrefix(now, "NOT COMPLETE; Home: Bay 1/Cart; seen ") || strings.Contains(now, "by the record") {
			t.Errorf("set: %q", now)
		}
	})
}

// seenAt finds a tool among those that were seen in a place and belong elsewhere.
func (g *garage) seenAt(t *testing.T, place, number string) (SeenTool, bool) {
	t.Helper()
	v, err := g.Place(ctx, g.boss, place)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range v.Elsewhere {
		if s.Number.String() == number {
			return s, true
		}
	}
	return SeenTool{}, false
}
