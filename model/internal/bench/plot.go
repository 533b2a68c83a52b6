package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// plot measures what is done all day in shops of growing size, given as 10000,100000, and
// draws it. The shops are kept in a folder where one is named, each in one of its size.
func plot(ctx context.Context, sizes, kept string) error {
	work, err := os.MkdirTemp("", "bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	var many []int
	var all []*place
	for text := range strings.SplitSeq(sizes, ",") {
		tools, err := strconv.Atoi(text)
		if err != nil || tools < 1_000 || tools > 1_000_000 || len(many) > 0 && tools <= many[len(many)-1] {
			return fmt.Errorf("%q is no size: give -plot growing numbers from 1000 to 1000000, such as 10000,100000", text)
		}
		p, err := newPlace(ctx, filepath.Join(cmp.Or(kept, work), text), tools)
		if err != nil {
			return err
		}
		defer p.shop.Close()
		many, all = append(many, tools), append(all, p)
	}
	took, err := daily(ctx, all...)
	if err != nil {
		return err
	}
	draw(os.Stdout, many, took)
	return nil
}

// draw writes a table, and a chart in Mermaid (https://mermaid.js.org/syntax/xyChart.html),
// which what shows Markdown draws: a line for each of what is done, in milliseconds.
func draw(w io.Writer, tools []int, took []map[string]times) {
	fmt.Fprintf(w, "| Tools | %s |\n|---|%s\n", strings.Join(daylong, " | "), strings.Repeat("---|", len(daylong)))
	var sizes []string
	for i, many := range tools {
		fmt.Fprintf(w, "| %d |", many)
		for _, what := range daylong {
			fmt.Fprintf(w, " %s |", shown(took[i][what].at(50)))
		}
		fmt.Fprintln(w)
		sizes = append(sizes, strconv.Itoa(many))
	}
	fmt.Fprintf(w, "\n```mermaid\nxychart-beta\n    title \"milliseconds: %s\"\n    x-axis \"tools\" [%s]\n    y-axis \"ms\"\n", strings.Join(daylong, ", "), strings.Join(sizes, ", "))
	for _, what := range daylong {
		var points []string
		for _, shop := range took {
			points = append(points, strconv.FormatFloat(shop[what].at(50).Seconds()*1000, 'f', 3, 64))
		}
		fmt.Fprintf(w, "    line [%s]\n", strings.Join(points, ", "))
	}
	fmt.Fprintln(w, "```")
}
