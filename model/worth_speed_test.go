package model

import (
	"encoding/json"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"pawl/model/internal/store"
)

// Bounds of writing what every tool is worth: the time beside that of loading the same
// rows once, in pages, with all that is asked of each; and what is held meanwhile. The
// rows are loaded twice, since the sums come before the dearest tool.
const (
	mostLoads   = 8.0      // measured 2.1 of 20,000 and 3.9 of 4,000, with slack
	heldAnyhow  = 64 << 20 // bytes: a page, its JSON, the garbage of both
	heldPerTool = 64       // bytes: 16 in the ranking, which grows by doubling
)

func TestWorthIsWrittenAsItIsRead(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	tools := pawlSize(4_000, 8_000, 1_000_000)
	s := openSheetShop(t)
	for from := 0; from < tools; from += 20_000 {
		s.imported(pricedRows(from, min(tools, from+20_000)), SheetOptions{CreatePlaces: true})
	}
	load := min(timed(func() { s.loads(tools) }), timed(func() { s.loads(tools) }))
	write := min(timed(func() { s.writesWorth(tools) }), timed(func() { s.writesWorth(tools) }))
	held := heldBy(func() { s.writesWorth(tools) })
	ratio := write.Seconds() / load.Seconds()
	t.Logf("%d tools: loaded in %v, written in %v, ratio %.2f; %d kB held", tools, load, write, ratio, held>>10)
	if ratio > mostLoads {
		t.Errorf("%.2f times the loading, over %.1f", ratio, mostLoads)
	}
	if most := int64(heldAnyhow + heldPerTool*tools); held > most {
		t.Errorf("%d bytes held, over %d", held, most)
	}
}

// pricedRows are tools with a price, a place and a day of purchase.
func pricedRows(from, to int) string {
	var file strings.Builder
	file.WriteString("kind,maker,model,serial,place,bought,price,seller\r\n")
	for i := from; i < to; i++ {
		fmt.Fprintf(&file, "%s,Brindle,BX-%d,KD%07dA,Bay %d/Drawer %d,2026-01-%02d,%d.50,Counter sale\r\n",
			[]string{"impact wrench", "torque wrench", "pry bar", "floor jack"}[i%4], i%40, i, i%8, i%20, 1+i%28, 20+i%900)
	}
	return file.String()
}

func timed(do func()) time.Duration {
	begin := time.Now()
	do()
	return time.Since(begin)
}

// loads reads the rows once, as cheaply as the store can.
func (s *sheetShop) loads(want int) {
	s.Helper()
	got := 0
	s.must(nil, s.read(ctx, func(d *directory) error {
		for q := (store.ToolQuery{Limit: exportPage}); ; {
			tools, err := d.Tools(q)
			if err != nil || len(tools) == 0 {
				return err
			}
			ids := make([]string, len(tools))
			for i, t := range tools {
				ids[i] = t.ID
			}
			if _, err = d.Quotes(ids); err != nil {
				return err
			}
			if _, err = d.Conditions(ids); err != nil {
				return err
			}
			got, q.After = got+len(tools), tools[len(tools)-1].Number
		}
	}))
	if got != want {
		s.Fatalf("%d tools, want %d", got, want)
	}
}

// writesWorth writes every tool with its worth as JSON, dearest first.
func (s *sheetShop) writesWorth(want int) {
	s.Helper()
	got, last, to := 0, int64(1<<62), json.NewEncoder(io.Discard)
	s.must(nil, s.WorthStream(ctx, s.by, WorthQuery{}, func(WorthView) error { return nil }, func(some []WorthTool) error {
		for _, w := range some {
			if w.Cost == nil || w.Cost.Amount > last {
				return fmt.Errorf("%s after one of %d", w.Tool.Number, last)
			}
			last, got = w.Cost.Amount, got+1
			if err := to.Encode(w); err != nil {
				return err
			}
		}
		return nil
	}))
	if got != want {
		s.Fatalf("%d tools, want %d", got, want)
	}
}

// heldBy is by how many bytes the heap grew at most while do ran. Garbage is collected
// early, so that what is held is what is seen.
func heldBy(do func()) int64 {
	defer debug.SetGCPercent(debug.SetGCPercent(20))
	var now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&now)
	before, peak := int64(now.HeapAlloc), int64(0)
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			runtime.ReadMemStats(&now)
			peak = max(peak, int64(now.HeapAlloc)-before)
			select {
			case <-stop:
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	do()
	close(stop)
	<-stopped
	return peak
}
