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
	run     func(c *cli.Context, words []string) error
}

// importers lists what can be imported.
func (p *program) importers() []importer {
	return []importer{
		{word: "photos", what: "photos FOLDER", run: p.importPhotos},
		{endings: []string{".zip"}, what: "a copy of tools (.zip)", run: func(c *cli.Context, words []string) error {
			return action(p, func(c *cli.Context) (importCopyOptions, error) {
				if len(words) != 1 {
					return importCopyOptions{}, fault.New(fault.Malformed, "%s takes one copy at a time", c.Command.HelpName)
				}
				return parseImportCopy(c, words[0])
			}, runImportCopy)(c)
		}},
		{endings: sheetEndings, what: "a spreadsheet (.csv, .xlsx)", run: p.importSheet},
		{word: "-", what: "- for a CSV on stdin", run: func(c *cli.Context, words []string) error {
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
pawl import copy.zip
pawl import copy.zip --owner "Tech A" --key pawl.pub --against point.txt`,
		ArgsUsage: "FILE | photos FOLDER",
		Flags:     slices.Concat(importCopyFlags(), importPhotosFlags(), importSheetFlags()),
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
	for _, i := range p.importers() {
		ending := strings.ToLower(filepath.Ext(words[0]))
		if i.word != "" && i.word == words[0] {
			return i.run(c, words[1:])
		}
		for _, e := range i.endings {
			if e == ending {
				return i.run(c, words)
			}
		}
		what = append(what, i.what)
	}
	return fault.New(fault.Malformed, "%q is nothing that can be imported", words[0]).WithHint("give %s", strings.Join(what, ", "))
}
