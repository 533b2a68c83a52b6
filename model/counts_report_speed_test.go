package model

import (
	"runtime"
	"runtime/debug"
	"sync/atomic"
	"testing"
	"time"

	"pawl/labels"
	"pawl/model/counts"
)

// peakOf runs something, and gives how long it took and by how much the heap grew at most;
// what is thrown away is collected early.
func peakOf(t *testing.T, run func() error) (took time.Duration, grew int64) {
	t.Helper()
	defer debug.SetGCPercent(debug.SetGCPercent(20))
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	before := int64(m.HeapAlloc)
	var peak atomic.Int64
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			peak.Store(max(peak.Load(), int64(m.HeapAlloc)-before))
			select {
			case <-stop:
				return
			case <-time.After(2 * time.Millisecond):
			}
		}
	}()
	from := time.Now()
	err := run()
	took = time.Since(from)
	close(stop)
	<-done
	if err != nil {
		t.Fatal(err)
	}
	return took, peak.Load()
}

// counter counts the bytes that are written.
type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) { c.n += int64(len(p)); return len(p), nil }

// The report of 10,000 tools costs what its lines cost: a CSV little more than reading
// them, a PDF twice as long as one of half the lines; and neither holds over 200 MB.
func TestTheReportOfALargeCount(t *testing.T) {
	if testing.Short() {
		t.Skip("a ratio of times means nothing here")
	}
	g := openGarage(t, "sqlite")
	tools := pawlSize(1_500, 3_000, 10_000)
	all := g.stock(t, tools)
	g.clock.advance(time.Second)
	c := g.count(t, StartCount{})
	for _, number := range all[:100] {
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: number, At: "Bay 1/Cart"})
	}
	if _, err := g.CloseCount(ctx, g.boss, c.ID); err != nil {
		t.Fatal(err)
	}
	var whole counts.Report
	read := func() error {
		r, err := g.CountReport(ctx, g.boss, c.ID)
		whole = r
		return err
	}
	var csv, pdf counter
	csvTook, csvHeld := peakOf(t, func() error { return g.CountCSV(ctx, g.boss, c.ID, &csv) })
	pdfTook, pdfHeld := peakOf(t, func() error { return g.CountPDF(ctx, g.boss, c.ID, &pdf) })
	t.Logf("%d tools: CSV of %d bytes in %v, %.0f MB; PDF of %d bytes in %v, %.0f MB", tools, csv.n, csvTook, float64(csvHeld)/1e6, pdf.n, pdfTook, float64(pdfHeld)/1e6)
	if most := int64(200_000_000); csvHeld > most || pdfHeld > most {
		t.Errorf("the CSV held %d bytes, the PDF %d", csvHeld, pdfHeld)
	}
	must := func(run func() error) func() {
		return func() {
			if err := run(); err != nil {
				t.Fatal(err)
			}
		}
	}
	must(read)()
	half := whole
	half.Lines = whole.Lines[:len(whole.Lines)/2]
	best := fastestOf(3, must(read), must(func() error { return g.CountCSV(ctx, g.boss, c.ID, &csv) }),
		must(func() error { return labels.CountPDF(&pdf, half) }), must(func() error { return labels.CountPDF(&pdf, whole) }))
	t.Logf("read %v, CSV %v, PDF of half %v, of all %v", best[0], best[1], best[2], best[3])
	if best[1] > 3*best[0] {
		t.Errorf("the CSV took %v, reading what is in it %v", best[1], best[0])
	}
	if best[3] > 3*best[2] {
		t.Errorf("the PDF took %v, one of half the lines %v", best[3], best[2])
	}
}
