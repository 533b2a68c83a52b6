package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// costs are what is done all day in a shop of some size, and how long each takes.
type costs struct {
	tools int
	each  map[string]time.Duration
}

// plot measures what is done all day in shops of growing size, given as 10000,100000, and
// draws it.
func plot(ctx context.Context, sizes string) error {
	work, err := os.MkdirTemp("", "bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	var all []costs
	for text := range strings.SplitSeq(sizes, ",") {
		tools, err := strconv.Atoi(text)
		if err != nil || tools < 1_000 || tools > 1_000_000 || len(all) > 0 && tools <= all[len(all)-1].tools {
			return fmt.Errorf("%q is no size: give -plot growing numbers from 1000 to 1000000, such as 10000,100000", text)
		}
		c, err := costsOf(ctx, filepath.Join(work, text), tools)
		if err != nil {
			return err
		}
		all = append(all, c)
	}
	draw(os.Stdout, all)
	return nil
}

func costsOf(ctx context.Context, dir string, tools int) (c costs, err error) {
	p, err := newPlace(ctx, dir, tools)
	if err != nil {
		return c, err
	}
	c.tools = tools
	if c.each, err = daily(ctx, p); err != nil {
		return c, err
	}
	if err := p.shop.Close(); err != nil {
		return c, err
	}
	return c, os.RemoveAll(dir)
}

// draw writes a table, and a chart in Mermaid (https://mermaid.js.org/syntax/xyChart.html),
// which what shows Markdown draws: a line for each of what is done, in milliseconds.
func draw(w io.Writer, all []costs) {
	fmt.Fprintf(w, "| Tools | %s |\n|---|%s\n", strings.Join(daylong, " | "), strings.Repeat("---|", len(daylong)))
	var sizes []string
	for _, c := range all {
		fmt.Fprintf(w, "| %d |", c.tools)
		for _, what := range daylong {
			fmt.Fprintf(w, " %s |", shown(c.each[what]))
		}
		fmt.Fprintln(w)
		sizes = append(sizes, strconv.Itoa(c.tools))
	}
	fmt.Fprintf(w, "\n```mermaid\nxychart-beta\n    title \"milliseconds: %s\"\n    x-axis \"tools\" [%s]\n    y-axis \"ms\"\n", strings.Join(daylong, ", "), strings.Join(sizes, ", "))
	for _, what := range daylong {
		var points []string
		for _, c := range all {
			points = append(points, strconv.FormatFloat(c.each[what].Seconds()*1000, 'f', 3, 64))
		}
		fmt.Fprintf(w, "    line [%s]\n", strings.Join(points, ", "))
	}
	fmt.Fprintln(w, "```")
}
