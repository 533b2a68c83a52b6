package cli

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

// importer takes in one sort of thing. Which one is meant is told by the first
// word, or by the ending of the file that is named.
type importer struct {
	word    string   // such as photos; empty: endings tell
	endings []string // such as .zip
	what    string   // in words, for a refusal
	flags   []string // those of the command that it takes
	run     func(c *cli.Context, words []string) error
}

// importers lists what can be imported.
func (p *program) importers() []importer {
	return []importer{
		{word: "photos", what: "photos FOLDER", flags: []string{"owner", "place"}, run: p.importPhotos},
		{word: "labels", what: "labels FILE", run: p.importLabels},
		{endings: []string{".zip"}, what: "a copy of tools (.zip)", flags: []string{"owner", "key", "against"}, run: func(c *cli.Context, words []string) error {
			return action(p, func(c *cli.Context) (importCopyOptions, error) {
				if len(words) != 1 {
					return importCopyOptions{}, fault.New(fault.Malformed, "%s takes one copy at a time", c.Command.HelpName)
				}
				return parseImportCopy(c, words[0])
			}, runImportCopy)(c)
		}},
		{endings: sheetEndings, what: "a spreadsheet (.csv, .xlsx) or the JSON of an export", flags: flagNames(importSheetFlags()), run: p.importSheet},
		{word: "-", what: "- for a CSV on stdin", flags: flagNames(importSheetFlags()), run: func(c *cli.Context, words []string) error {
			return p.importSheet(c, append([]string{"-"}, words...))
		}},
	}
}

func (p *program) importCommand() *cli.Command {
	return &cli.Command{
		Name: "import", Usage: "take in what was recorded elsewhere",
		Description: `pawl import tools.csv --dry-run
pawl import tools.xlsx --create-places --date-order mdy --map "Their header=serial" --ignore "Color"
pawl import photos FOLDER --owner "Tech A" --place "Bay 1/Cart"
pawl import labels stuck-on.txt
pawl import copy.zip
pawl import copy.zip --owner "Tech A" --key pawl.pub --against point.txt`,
		ArgsUsage: "FILE | photos FOLDER | labels FILE | -",
		Flags:     importFlags(),
		Action: func(c *cli.Context) error {
			words, err := operands(c, 1, -1, "a FILE")
			if err != nil {
				return err
			}
			return p.importWith(c, words)
		},
	}
}

// importWith finds the importer for what was typed.
func (p *program) importWith(c *cli.Context, words []string) error {
	var what []string
	ending := strings.ToLower(filepath.Ext(words[0]))
	for _, i := range p.importers() {
		rest := words
		if i.word != "" && i.word == words[0] {
			rest = words[1:]
		} else if !slices.Contains(i.endings, ending) {
			what = append(what, i.what)
			continue
		}
		for _, name := range flagNames(importFlags()) {
			if c.IsSet(name) && !slices.Contains(i.flags, name) {
				return fault.New(fault.Malformed, "--%s is not for %s", name, i.what).WithHint("leave it out")
			}
		}
		return i.run(c, rest)
	}
	return fault.New(fault.Malformed, "%q is nothing that can be imported", words[0]).WithHint("give %s", strings.Join(what, ", "))
}

func importFlags() []cli.Flag {
	return slices.Concat(importCopyFlags(), importPhotosFlags(), importSheetFlags())
}

func flagNames(flags []cli.Flag) (names []string) {
	for _, f := range flags {
		names = append(names, f.Names()[0])
	}
	return names
}
