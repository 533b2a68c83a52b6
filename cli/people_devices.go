package cli

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"strings"

	"github.com/skip2/go-qrcode"
	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) enrollCommand() *cli.Command {
	return &cli.Command{
		Name: "enroll", Usage: "make a link that lets one device in, once, within 15 minutes",
		Description: `pawl people enroll "Tech A"
pawl people enroll --shop-device "Board 1"
pawl people enroll --viewer "Adjuster" --until 2026-12-24 --claim C-2F4HT9KX`,
		ArgsUsage: "[NAME]",
		Flags: []cli.Flag{
			value("shop-device", "a device of the shop's own, called `NAME`, which asks for a badge"),
			value("viewer", "somebody outside, called `NAME`, who sees one packet"),
			value("until", "the last `DAY` of a viewer"),
			value("claim", "whose packets a viewer sees, a `CLAIM`"),
		},
		Action: action(p, parseEnroll, runEnroll),
	}
}

type enrollOptions struct {
	wire.NewEnrolment
	color bool
}

func parseEnroll(c *cli.Context) (o enrollOptions, err error) {
	names, err := operands(c, 0, 1, "")
	if err != nil {
		return o, err
	}
	o.ShopDevice, o.Viewer, o.Until, o.Claim = c.String("shop-device"), c.String("viewer"), c.String("until"), c.String("claim")
	if len(names) == 1 {
		o.Person = names[0]
	}
	whom := 0
	for _, name := range []string{o.Person, o.ShopDevice, o.Viewer} {
		if name != "" {
			whom++
		}
	}
	switch {
	case whom != 1:
		return o, fault.New(fault.Malformed, "%s needs one to let in", c.Command.HelpName).WithHint("give the NAME of somebody in the shop, --shop-device NAME, or --viewer NAME --until DAY")
	case o.Claim != "" && o.Viewer == "":
		return o, fault.New(fault.Malformed, "--claim is for a viewer").WithHint("give --viewer NAME --until DAY --claim CLAIM")
	case (o.Viewer != "") != (o.Until != ""):
		return o, fault.New(fault.Malformed, "--viewer and --until go together").WithHint("give the last day of the viewer, such as --until 2026-12-24")
	}
	o.color = colored(c)
	return o, nil
}

// colored says whether a terminal may be given colors (no-color.org).
func colored(c *cli.Context) bool { return !c.Bool("no-color") && os.Getenv("NO_COLOR") == "" }

func runEnroll(ctx context.Context, s *session, o enrollOptions) error {
	e, err := s.client.Enroll(ctx, o.NewEnrolment)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(e)
	}
	if at, err := url.Parse(e.Link); err == nil && loopback(at.Hostname()) {
		s.note("this link leads to this computer alone; let phones reach it: pawl settings --address https://HOST")
	}
	if !s.terminal {
		return s.row(e.Link, e.Kind, e.Name, string(e.Until), s.when(e.Expires))
	}
	code, err := qrText(e.Link, o.color)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "%s\n%s\nlets %s in once, until %s\n", clean(e.Link), code, clean(inWords(e)), s.when(e.Expires))
	return err
}

// inWords says whom a link lets in.
func inWords(e wire.Enrolment) string {
	switch e.Kind {
	case "shop":
		return "the shop device " + e.Name
	case "viewer":
		return "the viewer " + e.Name + " (through " + string(e.Until) + ")"
	}
	return e.Name
}

// qrText draws a text as a QR code of half blocks, two modules a character: what
// is light in the code is drawn, what is dark is left. A terminal of either theme
// shows it the right way round in color; without, one with a dark background.
func qrText(text string, color bool) (string, error) {
	code, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return "", fault.New(fault.Internal, "the link cannot be drawn as a QR code").WithCause(err)
	}
	drawn := strings.TrimRight(code.ToSmallString(false), "\n")
	if !color {
		return drawn, nil
	}
	const whiteOnBlack, plain = "\x1b[97;40m", "\x1b[0m"
	lines := strings.Split(drawn, "\n")
	for i, l := range lines {
		lines[i] = whiteOnBlack + l + plain
	}
	return strings.Join(lines, "\n"), nil
}

func (p *program) devicesCommand() *cli.Command {
	return &cli.Command{
		Name: "devices", Usage: "list the devices that were let in, with their last use",
		Description: `pawl people devices`,
		Action:      action(p, parseNothing, runDevices),
	}
}

func runDevices(ctx context.Context, s *session, _ struct{}) error {
	list, err := s.client.Devices(ctx)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(list)
	}
	var rows [][]string
	for _, d := range list.Devices {
		rows = append(rows, deviceRow(s, d))
	}
	return s.table([]string{"ID", "NAME", "KIND", "PERSON", "SINCE", "LAST USED", "STATE"}, rows)
}

func deviceRow(s *session, d wire.Device) []string {
	state := "in force"
	switch {
	case d.Revoked != 0:
		state = "revoked"
	case !d.InForce:
		state = "ended"
	}
	return []string{d.ID, d.Name, d.Kind, text(d.Person), s.when(d.Since), s.when(d.LastUsed), state}
}

func (p *program) revokeCommand() *cli.Command {
	return &cli.Command{
		Name: "revoke", Usage: "shut a device out at once",
		Description: `pawl people revoke D-7K3M9P4X
pawl people revoke "Board 1"`,
		ArgsUsage: "DEVICE",
		Action:    action(p, parseRevoke, runRevoke),
	}
}

func parseRevoke(c *cli.Context) (string, error) {
	words, err := operands(c, 1, 1, "a DEVICE, by its id or name")
	if err != nil {
		return "", err
	}
	return words[0], nil
}

func runRevoke(ctx context.Context, s *session, device string) error {
	list, err := s.client.Devices(ctx)
	if err != nil {
		return err
	}
	id, err := deviceNamed(list.Devices, device)
	if err != nil {
		return err
	}
	d, err := s.client.RevokeDevice(ctx, id)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(d)
	}
	return s.changed(fmt.Sprintf("%s (%s) is shut out", d.Name, d.ID), deviceRow(s, d)...)
}

// deviceNamed finds the id of a device by id, or by the name that only one in
// force has.
func deviceNamed(all []wire.Device, device string) (string, error) {
	var named []string
	for _, d := range all {
		switch {
		case strings.EqualFold(d.ID, device):
			return d.ID, nil
		case d.InForce && strings.EqualFold(d.Name, device):
			named = append(named, d.ID)
		}
	}
	switch len(named) {
	case 0:
		return "", fault.New(fault.NotFound, "there is no device %q in force", device).WithHint("list them: pawl people devices")
	case 1:
		return named[0], nil
	}
	return "", fault.New(fault.Conflict, "%d devices in force are called %q", len(named), device).WithHint("say which: %s", strings.Join(named, ", "))
}
