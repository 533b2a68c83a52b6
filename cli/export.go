package cli

import (
	"context"
	"io"
	"net/url"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

type exportOptions struct {
	format, output string
	settings       url.Values
}

func (p *program) exportCommand() *cli.Command {
	return &cli.Command{
		Name: "export", Usage: "write every tool as a spreadsheet or JSON, without photos, papers and history",
		Description: `pawl export --format csv -o tools.csv
pawl export --format xlsx -o tools.xlsx
pawl export --of markings --format csv -o looks.csv
pawl export --format csv --guard --bom -o for-the-office.csv`,
		Flags: []cli.Flag{
			value("of", "`WHAT`: tools, or markings with how they were kept and what was seen of them; else tools"),
			value("format", "`FORMAT`: csv, xlsx or json; else as FILE is named"),
			yes("guard", "of a CSV: put a single quote before what a spreadsheet would take for a formula; import takes it off"),
			yes("bom", "of a CSV: begin with a byte order mark, for spreadsheet programs"),
			toFile("write to `FILE`; - is stdout"),
		},
		Action: action(p, parseExport, runExport),
	}
}

func parseExport(c *cli.Context) (o exportOptions, err error) {
	if err := noOperands(c); err != nil {
		return o, err
	}
	o = exportOptions{format: c.String("format"), settings: url.Values{}}
	if o.output, err = need(c, "output", "tools.csv, or -o - for stdout"); err != nil {
		return o, err
	}
	if o.format == "" {
		o.format = strings.ToLower(strings.TrimPrefix(filepath.Ext(o.output), "."))
	}
	if c.IsSet("of") {
		o.settings.Set("of", c.String("of"))
	}
	switch o.format {
	case "csv":
	case "xlsx", "json":
		if c.Bool("guard") || c.Bool("bom") {
			return o, fault.New(fault.Malformed, "--guard and --bom are for a CSV, not for %s", o.format)
		}
		return o, nil
	default:
		return o, fault.New(fault.Malformed, "%q is not a format of an export", o.format).WithHint("give --format csv, xlsx or json")
	}
	if !c.Bool("guard") {
		o.settings.Set("raw", "1")
	}
	if c.Bool("bom") {
		o.settings.Set("bom", "1")
	}
	return o, nil
}

// notABackup says what an export leaves out.
const notABackup = "no backup: photos and papers, who has and had each tool, jobs, cleared reports, free numbers, people and the ledger are not in it; " +
	"own tools go with photos, papers and proofs by pawl people leave NAME -o copy.zip, and everything with a copy of the data folder"

func runExport(ctx context.Context, s *session, o exportOptions) error {
	err := s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) {
		return nil, s.client.Export(ctx, o.format, o.settings, w)
	})
	if err == nil {
		s.note(notABackup)
	}
	return err
}
