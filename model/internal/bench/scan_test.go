package main

import (
	"bufio"
	"context"
	"io"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/cli"
	"pawl/model"
	"pawl/model/people"
)

// tools is how many the shop has at each size.
var tools = map[string]int{"": 2_000, "ci": 20_000, "full": 1_000_000}

// board is pawl board over the folder, fed through a pipe.
type board struct {
	b   *testing.B
	in  io.Writer
	out *bufio.Scanner
}

func start(b *testing.B, dir string) *board {
	inRead, in := io.Pipe()
	out, outWrite := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- cli.Run([]string{"pawl", "--data", dir, "board", "--json"}, inRead, outWrite, io.Discard)
		outWrite.Close()
	}()
	b.Cleanup(func() {
		in.Close()
		if code := <-ended; code != 0 {
			b.Errorf("the board ended with %d", code)
		}
	})
	return &board{b, in, bufio.NewScanner(out)}
}

// scan sends a line, and gives how long its answer took.
func (p *board) scan(line, done string) time.Duration {
	p.b.Helper()
	began := time.Now()
	if _, err := io.WriteString(p.in, line+"\n"); err != nil {
		p.b.Fatal(err)
	}
	if !p.out.Scan() || !strings.Contains(p.out.Text(), `"done":"`+done+`"`) {
		p.b.Fatalf("%s was answered %s", line, p.out.Text())
	}
	return time.Since(began)
}

// BenchmarkScan compares what passes between a scan and its answer, at a board over
// a shop here, with the bare take of the same use-case, in turn in the same run. The
// limit is three times it; it fails at twice that only, for a machine that is busy
// with something else.
func BenchmarkScan(b *testing.B) {
	ctx, dir, many := context.Background(), b.TempDir(), tools[os.Getenv("PAWL_SIZE")]
	all, err := fill(ctx, dir, many)
	if err != nil {
		b.Fatal(err)
	}
	looked := all[len(all)-200:]
	shop, err := model.Open(ctx, model.Options{Dir: dir, Program: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	defer shop.Close()
	computer := model.By{Actor: people.Actor{Role: people.Manager, Via: people.ViaLocal}}
	p, err := shop.AddPerson(ctx, computer, model.NewPerson{Name: "Tech A", Role: "technician"})
	if err != nil {
		b.Fatal(err)
	}
	badged := model.By{Actor: people.Actor{Person: p.ID, Name: p.Name, Role: people.ShopDevice, Via: people.ViaLocal}}
	back := func(number string) {
		if _, err := shop.Return(ctx, badged, number, model.Return{}); err != nil {
			b.Fatal(err)
		}
	}
	at := start(b, dir)
	var bare, scans []time.Duration
	for b.Loop() {
		for i, n := range looked {
			number := string(n)
			began := time.Now()
			if _, err := shop.Take(ctx, badged, number, model.Take{}); err != nil {
				b.Fatal(err)
			}
			bare = append(bare, time.Since(began))
			back(number)
			if i%20 == 0 {
				at.scan("B/"+p.Badge, "badge")
			}
			scans = append(scans, at.scan("T/"+number, "take"))
			back(number)
		}
	}
	slices.Sort(bare)
	slices.Sort(scans)
	take, scan := bare[len(bare)/2], scans[len(scans)/2]
	ratio := float64(scan) / float64(take)
	b.ReportMetric(ratio, "x-bare")
	b.Logf("%d tools: a take %s, a scan to its answer %s: %.2f times (limit 3)", many, take, scan, ratio)
	if ratio > 2*3 {
		b.Errorf("a scan takes %.2f times a bare take", ratio)
	}
}
