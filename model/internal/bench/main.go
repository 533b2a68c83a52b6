// Command bench prints how fast the program is at size: each row beside its limit,
// which is measured in the same run, with the ratio of both. It asserts nothing: a
// busy machine prints larger seconds, and ratios that are worth looking at twice.
package main

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime/pprof"
	"slices"
	"strings"
	"time"

	"pawl/model"
	"pawl/model/numbers"
	"pawl/model/people"
)

// small is the shop that a large one is compared with.
const small = 10_000

// atComputer is who asks: the shop's own computer.
var atComputer = model.By{Actor: people.Actor{Role: people.Manager, Via: people.ViaLocal}}

// place is a shop that is measured.
type place struct {
	dir   string
	tools []numbers.Number
	shop  *model.Shop
}

// some are so many tools from all over the shop.
func (p *place) some(many int) (out []numbers.Number) {
	many = min(many, len(p.tools))
	for i := range many {
		out = append(out, p.tools[i*(len(p.tools)/many)])
	}
	return out
}

// reopen closes the shop, does something with its folder, and opens it again.
func (p *place) reopen(ctx context.Context, between func() error) error {
	if err := p.shop.Close(); err != nil {
		return err
	}
	if err := between(); err != nil {
		return err
	}
	shop, err := model.Open(ctx, model.Options{Dir: p.dir, Program: "bench"})
	p.shop = shop
	return err
}

func newPlace(ctx context.Context, dir string, tools int) (*place, error) {
	p := &place{dir: dir}
	var err error
	if p.tools, err = fill(ctx, dir, tools); err != nil {
		return nil, err
	}
	p.shop, err = model.Open(ctx, model.Options{Dir: dir, Program: "bench"})
	return p, err
}

// measured is one row of the table.
type measured struct {
	what, limit string
	ours, least time.Duration // of the row, and of its limit
	goal        float64       // the ratio that is aimed at, at most
	more        string
}

// rows are what is measured, by a word to choose them by.
var rows = []struct {
	word    string
	measure func(ctx context.Context, work string, p *place) ([]measured, error)
}{
	{"take", takeRow},
	{"callers", callersRow},
	{"tag", tagRow},
	{"match", matchRow},
	{"labels", labelsRow},
	{"verify", verifyRow},
	{"backup", backupRow},
	{"size", sizeRow},
	{"start", startRow},
	{"annex", annexRow}, // last: it takes tools out of the shop
}

func main() {
	tools := flag.Int("tools", small, "how many tools the shop has, at most 1,000,000")
	only := flag.String("rows", "", "the rows to measure, such as take,tag; all unless said")
	profile := flag.String("profile", "", "write what the processor did into this file, for go tool pprof")
	kept := flag.String("shop", "", "keep the shop in this folder, and measure the one that is there: a million tools take long to write")
	sizes := flag.String("plot", "", "draw what is done all day in shops of these sizes, such as 10000,100000,1000000, and measure nothing else")
	flag.Parse()
	if *tools < 1_000 || *tools > 1_000_000 || flag.NArg() > 0 {
		fmt.Fprintln(os.Stderr, "bench: give -tools 1000 to 1000000, and nothing else but -rows, -profile, -shop and -plot")
		os.Exit(2)
	}
	err := profiled(*profile, func() error {
		if *sizes != "" {
			return plot(context.Background(), *sizes, *kept)
		}
		return run(context.Background(), *tools, *only, *kept)
	})
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

// profiled does something, and keeps what the processor did where a file is named.
func profiled(file string, do func() error) error {
	if file == "" {
		return do()
	}
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := pprof.StartCPUProfile(f); err != nil {
		return err
	}
	defer pprof.StopCPUProfile()
	return do()
}

func run(ctx context.Context, tools int, only, kept string) error {
	chosen := strings.FieldsFunc(only, func(r rune) bool { return r == ',' })
	work, err := os.MkdirTemp("", "bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	var p *place
	filled, err := took(func() (err error) {
		p, err = newPlace(ctx, cmp.Or(kept, filepath.Join(work, "shop")), tools)
		return err
	})
	if err != nil {
		return err
	}
	defer func() { p.shop.Close() }()
	fmt.Printf("%d tools, written in %s.\n\n| What | Limit in the same run | Took | Limit took | Ratio | Goal |\n|---|---|---|---|---|---|\n", tools, shown(filled))
	for _, r := range rows {
		if len(chosen) > 0 && !slices.Contains(chosen, r.word) {
			continue
		}
		got, err := r.measure(ctx, work, p)
		if err != nil {
			return fmt.Errorf("%s: %w", r.word, err)
		}
		for _, m := range got {
			fmt.Printf("| %s%s | %s | %s | %s | %.2f | ≤ %g |\n", m.what, m.more, m.limit, shown(m.ours), shown(m.least), float64(m.ours)/float64(m.least), m.goal)
		}
	}
	return nil
}

// shown is a time to three figures.
func shown(d time.Duration) string {
	step := time.Duration(1)
	for d/step >= 1000 {
		step *= 10
	}
	return d.Round(step).String()
}
