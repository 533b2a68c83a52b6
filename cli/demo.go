package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

type demoOptions struct {
	folder
	json bool
}

func (p *program) demoCommand() *cli.Command {
	return &cli.Command{
		Name: "demo", Usage: "build an invented shop to look at, and show the errand's result",
		Description: `pawl demo
pawl demo --data demo-shop`,
		Action: func(c *cli.Context) error {
			o, err := p.parseDemo(c)
			if err != nil {
				return err
			}
			return p.runDemo(c.Context, o, p.watch(c))
		},
	}
}

func (p *program) parseDemo(c *cli.Context) (o demoOptions, err error) {
	if err := localOnly(c); err != nil {
		return o, err
	}
	if err := noOperands(c); err != nil {
		return o, err
	}
	o.json = c.Bool("json")
	if o.folder, err = p.folder(c); err != nil {
		return o, err
	}
	if c.String("data") == "" {
		// The shop that a person really keeps is never mixed with an invented one.
		o.dir, err = os.MkdirTemp("", "pawl-demo-")
		return o, err
	}
	if there, _ := os.ReadDir(o.dir); len(there) > 0 {
		return o, fault.New(fault.Conflict, "%s is not empty", o.dir).WithHint("give a new folder, or none")
	}
	return o, nil
}

// runDemo builds the shop, then asks it what a technician would: the impact
// wrench of the errand, its history, a label, and whether all of it holds.
func (p *program) runDemo(ctx context.Context, o demoOptions, w *progress) error {
	wrench, tools, err := buildDemo(ctx, o.folder)
	w.clear()
	if err != nil {
		return err
	}
	label := filepath.Join(o.dir, "label.png")
	steps := [][]string{
		{"show", wrench}, {"history", wrench}, {"labels", wrench, "--format", "png", "--dpi", "300", "-o", label}, {"verify"},
	}
	if o.json {
		out := printer{out: answers{p.out}}
		if err := out.object(demoShop{Folder: o.dir, Number: wrench, Tools: tools}); err != nil {
			return err
		}
		return p.runSteps(ctx, o, steps, func([]string) {})
	}
	fmt.Fprintf(p.out, "Gull Lane Garage, an invented shop with %d tools, is in %s\n", tools, o.dir)
	err = p.runSteps(ctx, o, steps, func(words []string) {
		fmt.Fprintf(p.out, "\n$ pawl --data %s %s\n", o.dir, strings.Join(words, " "))
	})
	if err == nil {
		fmt.Fprintf(p.out, "\nNext: pawl --data %s find      or      pawl --data %s serve\n", o.dir, o.dir)
	}
	return err
}

// demoShop is what demo --json says of the shop it built, before the answers of
// the errand's steps.
type demoShop struct {
	Folder string `json:"folder"`
	Number string `json:"number"`
	Tools  int    `json:"tools"`
}

// runSteps runs the lines of the errand in the shop that was built.
func (p *program) runSteps(ctx context.Context, o demoOptions, steps [][]string, before func([]string)) error {
	for _, words := range steps {
		before(words)
		line := append([]string{"--data", o.dir, "--quiet", "--json=" + strconv.FormatBool(o.json)}, words...)
		if err := p.run(ctx, line); err != nil {
			return err
		}
	}
	return nil
}
