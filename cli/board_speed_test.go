package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/api"
	"pawl/api/client"
	"pawl/model"
	"pawl/model/people"
)

// boardTools is how many tools the shop has at each size.
var boardTools = map[string]int{"": 1_000, "ci": 10_000, "full": 1_000_000}

// BenchmarkScan compares what passes between a scan and its answer at a board over
// a shop here with the bare take of the same use-case, in turn in the same run. The
// limit is three times it; it fails at twice that only, for a machine that is busy
// with something else.
func BenchmarkScan(b *testing.B) {
	ctx := context.Background()
	shop, err := model.Open(ctx, model.Options{Dir: b.TempDir(), Program: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	defer shop.Close()
	computer := model.By{Actor: people.Actor{Role: people.Manager, Via: people.ViaLocal}}
	p, err := shop.AddPerson(ctx, computer, model.NewPerson{Name: "Tech A", Role: "technician"})
	if err != nil {
		b.Fatal(err)
	}
	c := client.New("", client.InProcess{Handler: api.New(shop, api.Options{}), Actor: computer.Actor}, "")
	fillShop(b, c, boardTools[os.Getenv("PAWL_SIZE")])
	const tried = 200
	page, _, err := shop.Find(ctx, computer, model.FindQuery{Limit: tried})
	if err != nil || len(page) != tried {
		b.Fatal(len(page), err)
	}
	q, err := openQueue(filepath.Join(b.TempDir(), "board.queue"))
	if err != nil {
		b.Fatal(err)
	}
	r := &boardRun{s: &session{client: c, printer: printer{out: io.Discard, err: io.Discard, json: true}}, q: q, start: time.Now()}
	if err := r.meet(ctx); err != nil {
		b.Fatal(err)
	}
	badged := computer
	badged.Actor = people.Actor{Person: p.ID, Name: p.Name, Role: people.ShopDevice, Via: people.ViaLocal}
	var bare, scans []time.Duration
	for b.Loop() {
		for _, row := range page {
			number := string(row.Number)
			began := time.Now()
			if _, err := shop.Take(ctx, badged, number, model.Take{}); err != nil {
				b.Fatal(err)
			}
			bare = append(bare, time.Since(began))
			if _, err := shop.Return(ctx, badged, number, model.Return{}); err != nil {
				b.Fatal(err)
			}
			now := time.Now()
			r.board.Open("B/"+p.Badge, p.Name, r.since(now))
			began = time.Now()
			if err := r.scan(ctx, arrived{"T/" + number, now}); err != nil {
				b.Fatal(err)
			}
			scans = append(scans, time.Since(began))
			if _, err := shop.Return(ctx, badged, number, model.Return{}); err != nil {
				b.Fatal(err)
			}
			r.board.Code = ""
		}
	}
	if r.failed > 0 {
		b.Fatalf("%d of %d scans failed: %v", r.failed, r.total, r.first)
	}
	slices.Sort(bare)
	slices.Sort(scans)
	take, scan := bare[len(bare)/2], scans[len(scans)/2]
	ratio := float64(scan) / float64(take)
	b.ReportMetric(ratio, "x-bare")
	b.Logf("%d tools: a take %s, a scan to its answer %s: %.2f times (limit 3)", boardTools[os.Getenv("PAWL_SIZE")], take, scan, ratio)
	if ratio > 2*3 {
		b.Errorf("a scan takes %.2f times a bare take", ratio)
	}
}

// fillShop registers so many tools, as many an act as an import may have.
func fillShop(b *testing.B, c *client.Client, tools int) {
	b.Helper()
	const each = 20_000
	for from := 0; from < tools; from += each {
		var rows bytes.Buffer
		rows.WriteString("kind,maker,serial\n")
		for i := from; i < min(tools, from+each); i++ {
			fmt.Fprintf(&rows, "ratchet,Brindle,SP%07d\n", i)
		}
		open := func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(rows.String())), nil }
		if _, err := c.Import(context.Background(), url.Values{}, "text/csv", int64(rows.Len()), open); err != nil {
			b.Fatal(err)
		}
	}
}
