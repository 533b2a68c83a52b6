package cli

import (
	"context"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

type dueOptions struct {
	client.DueQuery
	most   int
	output string // of a calendar; empty: a list
}

func (p *program) dueCommand() *cli.Command {
	return &cli.Command{
		Name: "due", Usage: "list what is due: tool calibrations, inspections, returns, warranties, days of claims",
		Description: `pawl due
pawl due --within 60d --json
pawl due --sort inspection --place "Bay 1"
pawl due --format ics -o due.ics
pawl due --format tasks -o due.ics`,
		Flags: []cli.Flag{
			value("within", "within so many `DAYS`, such as 60d; else the lead time of each sort"),
			value("sort", "one `SORT`: recheck, claim, \"tool calibration\", inspection, return, warranty or marking"),
			value("person", "what `NAME` has and is to bring back, and what is due of their own tools; shop for nobody's own"),
			value("place", "what belongs in `PATH` or in something there"),
			limit(),
			value("format", "`FORMAT`: ics, a calendar of the next 400 days, or tasks, the same as to-dos"),
			toFile("write the calendar to `FILE`; - is stdout"),
		},
		Action: action(p, parseDue, runDue),
	}
}

func parseDue(c *cli.Context) (o dueOptions, err error) {
	if err := noOperands(c); err != nil {
		return o, err
	}
	o.DueQuery = client.DueQuery{Sort: c.String("sort"), Person: c.String("person"), Place: c.String("place")}
	if c.IsSet("within") {
		days, err := strconv.Atoi(strings.TrimSuffix(c.String("within"), "d"))
		if err != nil || days < 0 {
			return o, fault.New(fault.Malformed, "--within is %q", c.String("within")).WithHint("give days, such as 60d")
		}
		o.Within = &days
	}
	if o.most, err = wholeOf(c, "limit"); err != nil {
		return o, err
	}
	format := c.String("format")
	o.output = c.String("output")
	if format == "" && o.output != "" {
		format = strings.TrimPrefix(filepath.Ext(o.output), ".")
	}
	switch {
	case format != "" && format != "ics" && format != "tasks":
		return o, fault.New(fault.Malformed, "%q is not a format of what is due", format).WithHint("give --format ics or tasks, or leave it out for a list")
	case format != "" && o.output == "":
		return o, fault.New(fault.Malformed, "no file is named to write to").WithHint("give -o due.ics, or -o - for stdout")
	case format != "" && o.most > 0:
		return o, fault.New(fault.Malformed, "a calendar is given whole").WithHint("leave --limit out")
	}
	o.Tasks = format == "tasks"
	return o, nil
}

func runDue(ctx context.Context, s *session, o dueOptions) error {
	if o.output != "" {
		return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) { return nil, s.client.Calendar(ctx, o.DueQuery, w) })
	}
	var day wire.Dues
	rows, err := gather(o.most, func(each func(wire.Due) error) error {
		return s.client.DueAll(ctx, o.DueQuery, func(page wire.Dues) { day = page }, each)
	})
	if err != nil {
		return err
	}
	err = list(ctx, s, wire.Dues{Due: rows, Today: day.Today}, []string{"DUE", "DAYS", "WHAT", "NUMBER", "KIND", "PLACE", "PERSON", "WHY"}, rows, dueCells)
	if err == nil && len(rows) == 0 && !s.json {
		s.note("nothing is due within that time; see further with --within 365d")
	}
	return err
}

func dueCells(d wire.Due) []string {
	if d.Claim != nil { // it is no tool's
		return []string{string(d.On), strconv.Itoa(d.Days), d.What, *d.Claim, "claim", "", text(d.Person), joined("; ", d.Why, text(d.Paid))}
	}
	return []string{string(d.On), strconv.Itoa(d.Days), d.What, d.Number, kindOf(d.Kind), text(d.Place), text(d.Person), d.Why}
}

func (p *program) calendarCommand() *cli.Command {
	return &cli.Command{
		Name: "calendar", Usage: "make, list and revoke addresses at which calendar programs read what is due",
		Description: `pawl calendar add phone --for "Tech A"
pawl calendar revoke F-12345678`,
		Subcommands: []*cli.Command{
			{
				Name: "add", Usage: "make an address; it is shown once, and gives dates only",
				Description: `pawl calendar add phone --for "Tech A"`,
				ArgsUsage:   "NAME",
				Flags:       []cli.Flag{value("for", "it shows what the person called `NAME` may see; else the shop's")},
				Action: action(p, func(c *cli.Context) (o wire.NewFeed, err error) {
					names, err := operands(c, 1, 1, "a NAME")
					if err == nil {
						o.Name, o.For = names[0], c.String("for")
					}
					return o, err
				}, runCalendarAdd),
			},
			{
				Name: "list", Usage: "list the addresses, without what opens them",
				Description: `pawl calendar list`,
				Action:      action(p, parseNothing, runCalendarList),
			},
			{
				Name: "revoke", Usage: "end an address at once",
				Description: `pawl calendar revoke F-12345678`,
				ArgsUsage:   "ID",
				Action:      action(p, parseTokenRevoke, runCalendarRevoke),
			},
		},
	}
}

func feedRow(s *session, f wire.Feed) []string {
	return []string{f.ID, f.Name, text(f.For), s.when(f.Since), s.when(f.LastUsed), s.when(f.Revoked)}
}

func runCalendarAdd(ctx context.Context, s *session, in wire.NewFeed) error {
	f, err := s.client.AddFeed(ctx, in)
	switch {
	case err != nil:
		return err
	case s.json:
		return s.object(f)
	}
	err = s.changed("calendar "+f.Name+" ("+f.ID+") is at "+f.Link+"; it is shown nowhere else", f.ID, f.Name, f.Link)
	s.note("whoever has the address sees these dates; end it with: pawl calendar revoke " + f.ID)
	return err
}

func runCalendarList(ctx context.Context, s *session, _ struct{}) error {
	all, err := s.client.Feeds(ctx)
	if err != nil {
		return err
	}
	return list(ctx, s, all, []string{"ID", "NAME", "FOR", "SINCE", "LAST READ", "REVOKED"}, all.Feeds, func(f wire.Feed) []string { return feedRow(s, f) })
}

func runCalendarRevoke(ctx context.Context, s *session, id string) error {
	f, err := s.client.RevokeFeed(ctx, id)
	switch {
	case err != nil:
		return err
	case s.json:
		return s.object(f)
	}
	return s.changed("calendar "+f.Name+" ("+f.ID+") is revoked", feedRow(s, f)...)
}
