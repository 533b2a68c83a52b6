package model

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/register"
)

// stock puts so many plain tools into a place, and gives their numbers.
func (g *garage) stock(t *testing.T, tools int) (out []string) {
	t.Helper()
	for from := 0; from < tools; from += 1000 {
		_, err := store.Write(ctx, g.db, store.Act{Verb: "register", Actor: g.boss.Recorded()}, func(tx *store.Tx) (bool, error) {
			tree, err := tx.Places()
			if err != nil {
				return false, err
			}
			place, err := tree.Resolve("Bay 1/Cart")
			if err != nil {
				return false, err
			}
			var rows []register.Tool
			var taken []register.NumberRow
			for i := from; i < min(tools, from+1000); i++ {
				n, err := numbers.FromCounter(int64(10_000 + i))
				if err != nil {
					return false, err
				}
				id := fmt.Sprintf("T-%08d", i)
				rows = append(rows, register.Tool{ID: id, Number: n, Kind: "ratchet", Place: place.ID, Created: tx.Now()})
				taken = append(taken, register.NumberRow{ID: string(n), State: register.Assigned, Tool: id, Since: tx.Now()})
			}
			if err := store.PutNew(tx, rows); err != nil {
				return false, err
			}
			return true, store.PutNew(tx, taken)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for i := range tools {
		n, _ := numbers.FromCounter(int64(10_000 + i))
		out = append(out, n.String())
	}
	return out
}

// Four people scan a whole count at once, each a part that overlaps the next one's:
// nothing is lost, nothing is kept twice, and the closing costs little beside loading
// the rows that it rests on.
func TestFourScannersAtOnceLoseNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		tools := pawlSize(240, 1_000, 10_000)
		if g.engine == "postgres" {
			tools = pawlSize(120, 400, 10_000)
		}
		all := g.stock(t, tools)
		g.clock.advance(time.Second)
		c := g.count(t, StartCount{Scope: "place:Bay 1"})
		if int(c.Listed) != tools {
			t.Fatalf("%d are listed", c.Listed)
		}
		unseen := tools / 100
		var seen, already [4]int
		var wait sync.WaitGroup
		for part := range 4 {
			wait.Go(func() {
				by := []By{g.techA, g.techB, g.manager, g.boss}[part]
				for i := unseen; i < tools; i++ {
					if i%4 != part && (i%16 != 0 || (i/16)%4 != part) {
						continue
					}
					d, err := g.ScanCount(ctx, by, c.ID, ScanCount{Scanned: all[i], At: "Bay 1/Cart"})
					switch {
					case err != nil:
						t.Errorf("%s: %v", all[i], err)
					case d.Done == SeenAlready:
						already[part]++
					default:
						seen[part]++
					}
				}
			})
		}
		wait.Wait()
		if n := seen[0] + seen[1] + seen[2] + seen[3]; n != tools-unseen {
			t.Errorf("%d were seen, %v; %v already", n, seen, already)
		}
		g.wantQuickClose(t, c.ID, tools, unseen)
	})
}

// wantQuickClose closes a count, beside loading its rows.
func (g *garage) wantQuickClose(t *testing.T, count string, tools, unseen int) {
	t.Helper()
	load := func(rx *store.Rx) error {
		if _, err := rx.FrameRows(count); err != nil {
			return err
		}
		if _, err := rx.Sightings(count); err != nil {
			return err
		}
		_, err := rx.Differences(count)
		return err
	}
	rows := time.Duration(0)
	for range 3 { // the machine is not always the same
		begin := time.Now()
		if err := g.db.Read(ctx, load); err != nil {
			t.Fatal(err)
		}
		rows = max(rows, time.Since(begin))
	}
	begin := time.Now()
	v, err := g.CloseCount(ctx, g.boss, count)
	took := time.Since(begin)
	if err != nil || v.Statement.Missing != unseen || v.Statement.Seen != tools-unseen || v.Numbers.By[counts.NotSeen] != unseen || len(v.Unsettled) != min(unseen, MostUnsettled) || len(v.Counted) != 4 {
		t.Errorf("%+v %+v, %v", v.Statement, v.Numbers, err)
	}
	t.Logf("%d tools: closed in %v; loading the rows %v; ratio %.1f", tools, took, rows, took.Seconds()/rows.Seconds())
	// Of a few rows one wait of the machine is most of it.
	if most := 6*rows + 100*time.Millisecond; tools >= 1_000 && took > most {
		t.Errorf("closing took %v, which is over %v", took, most)
	}
}

// Tools are taken and returned while others count: each ends seen or moved meanwhile,
// and none missing.
func TestTakesDuringACount(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		tools := pawlSize(48, 120, 2000)
		all := g.stock(t, tools)
		g.clock.advance(time.Second)
		c := g.count(t, StartCount{})
		g.clock.advance(time.Second)
		var wait sync.WaitGroup
		wait.Go(func() {
			for i := 0; i < tools; i += 2 {
				if _, err := g.Take(ctx, g.techA, all[i], Take{}); err != nil {
					t.Error(err)
				}
				if i%4 == 0 {
					if _, err := g.Return(ctx, g.techA, all[i], Return{}); err != nil {
						t.Error(err)
					}
				}
			}
		})
		wait.Go(func() {
			for i := tools - 1; i >= 0; i-- {
				if i%2 == 0 && i%3 != 0 {
					continue // nobody scans it: it moves
				}
				if _, err := g.ScanCount(ctx, g.techB, c.ID, ScanCount{Scanned: all[i]}); err != nil {
					t.Error(err)
				}
			}
		})
		wait.Wait()
		v, err := g.CloseCount(ctx, g.boss, c.ID)
		if err != nil || v.Statement.Missing != 0 || v.Numbers.By[counts.Seen]+v.Numbers.By[counts.Moved] != tools || v.Numbers.By[counts.Moved] == 0 {
			t.Errorf("%+v, %v", v.Numbers, err)
		}
		rows, _, err := g.CountTools(ctx, g.boss, c.ID, CountToolsQuery{Which: "moved meanwhile", Limit: 3})
		if err != nil || len(rows) != 3 || rows[0].Moved == nil || rows[0].Moved.Loan == "" || !strings.Contains(rows[0].Moved.Words, "Tech A") {
			t.Errorf("%+v, %v", rows, err)
		}
	})
}

// Damaged scans: half a code, two run together, a character lost, changed or swapped,
// foreign ones up to 4 kB. None counts another tool than the one that was scanned.
func TestDamagedScansCountNoOtherTool(t *testing.T) {
	g := openGarage(t, "sqlite")
	all := g.stock(t, 200)
	c := g.count(t, StartCount{})
	chance := rand.New(rand.NewPCG(7, 7))
	lines, done := g.lines(t), 0
	for range pawlSize(600, 2_000, 10_000) {
		i := chance.IntN(len(all))
		for _, symbol := range []string{"HTTPS://SHOP.EXAMPLE/T/" + all[i], "T/" + all[i], all[i]} {
			scanned := damaged(chance, symbol, all[chance.IntN(len(all))])
			d, err := g.ScanCount(ctx, g.techA, c.ID, ScanCount{Scanned: scanned})
			if err == nil && d.Number.String() != all[i] {
				t.Errorf("%.80q was scanned, of %s, and counts %s", scanned, symbol, d.Number)
			}
			if err != nil && (fault.Is(err, fault.Internal) || fault.Is(err, fault.Unavailable)) {
				t.Errorf("%.80q: %v", scanned, err)
			}
			if err == nil && d.Done != SeenAlready {
				done++
			}
		}
	}
	if n := g.lines(t) - lines; int(n) != done {
		t.Errorf("%d lines were left for %d looks", n, done)
	}
}

// damaged harms a symbol in one of the ways in which scanners and printers do.
func damaged(chance *rand.Rand, symbol, other string) string {
	at := chance.IntN(len(symbol))
	switch chance.IntN(8) {
	case 0:
		return symbol[:at]
	case 1:
		return symbol[at:]
	case 2:
		return symbol + "T/" + other
	case 3:
		return symbol[:at] + symbol[min(len(symbol), at+1):]
	case 4:
		b := []byte(symbol)
		b[at] = byte(chance.IntN(256))
		return string(b)
	case 5:
		if at+1 == len(symbol) {
			return symbol
		}
		return symbol[:at] + symbol[at+1:at+2] + symbol[at:at+1] + symbol[at+2:]
	case 6:
		b := make([]byte, 1+chance.IntN(4096))
		for i := range b {
			b[i] = byte(chance.IntN(256))
		}
		return string(b)
	}
	return strings.NewReplacer("Y", "Z", "Z", "Y", "-", "ß", "/", "-", ":", "Ö").Replace(symbol) // a keyboard as in Germany, from memory
}
