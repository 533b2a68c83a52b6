package cli

import (
	"strconv"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

// value makes a flag with a value. Usage names the value between backticks.
func value(name, usage string) cli.Flag { return &cli.StringFlag{Name: name, Usage: usage} }

// values makes a flag that may be given several times, kept to the letter.
func values(name, usage string) cli.Flag {
	return &cli.StringSliceFlag{Name: name, Usage: usage, KeepSpace: true}
}

// yes makes a flag without a value.
func yes(name, usage string) cli.Flag {
	return &cli.BoolFlag{Name: name, Usage: usage, DisableDefaultText: true}
}

// toFile makes the flag that says where to write.
func toFile(usage string) cli.Flag {
	return &cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: usage}
}

// csvFile is the file that a list goes to as a CSV; empty: to none.
func csvFile(c *cli.Context) (string, error) {
	name := c.String("output")
	if ending := endOf(name); name != "" && name != "-" && ending != "csv" {
		return "", fault.New(fault.Malformed, "%q is not a format of the list", ending).WithHint("name the file list.csv")
	}
	return name, nil
}

// happened is the flag of acts that may be entered late.
func happened() cli.Flag {
	return value("happened", "the act was at `TIME`, and is entered late: 2026-11-25T16:30 on the shop's clock, or with an offset")
}

// operands checks how many operands there are; most < 0 means any number. What
// names them in the message.
func operands(c *cli.Context, least, most int, what string) ([]string, error) {
	all := c.Args().Slice()
	switch {
	case len(all) < least:
		return nil, fault.New(fault.Malformed, "%s needs %s", c.Command.HelpName, what).WithHint("see %s --help", c.Command.HelpName)
	case most >= 0 && len(all) > most:
		return nil, fault.New(fault.Malformed, "%s does not know what to do with %q", c.Command.HelpName, all[most]).
			WithHint("quote names that hold spaces; see %s --help", c.Command.HelpName)
	}
	return all, nil
}

// oneOperand reads a command that takes one operand and nothing else.
func oneOperand(what string) func(*cli.Context) (string, error) {
	return func(c *cli.Context) (string, error) {
		all, err := operands(c, 1, 1, what)
		if err != nil {
			return "", err
		}
		return all[0], nil
	}
}

// noOperands refuses any operand.
func noOperands(c *cli.Context) error {
	_, err := operands(c, 0, 0, "")
	return err
}

// need gives the value of a flag that must be given.
func need(c *cli.Context, name, example string) (string, error) {
	v := c.String(name)
	if v == "" {
		return "", fault.New(fault.Malformed, "%s needs --%s", c.Command.HelpName, name).WithHint("such as --%s %s", name, example)
	}
	return v, nil
}

// given is the value of a flag, or nil where it was not given; an empty value
// is a value.
func given(c *cli.Context, name string) *string {
	if !c.IsSet(name) {
		return nil
	}
	v := c.String(name)
	return &v
}

// wholeOf reads a flag whose value is a whole number of 1 or more; 0 where it
// was not given.
func wholeOf(c *cli.Context, name string) (int, error) {
	if !c.IsSet(name) {
		return 0, nil
	}
	n, err := strconv.Atoi(c.String(name))
	if err != nil || n < 1 {
		return 0, fault.New(fault.Malformed, "--%s is %q", name, c.String(name)).WithHint("give a whole number of 1 or more")
	}
	return n, nil
}

// wholeFlag reads a command that takes that one flag and nothing else.
func wholeFlag(name string) func(*cli.Context) (int, error) {
	return func(c *cli.Context) (int, error) {
		if err := noOperands(c); err != nil {
			return 0, err
		}
		return wholeOf(c, name)
	}
}

// firstOf is the first operand, or nothing.
func firstOf(all []string) string {
	if len(all) == 0 {
		return ""
	}
	return all[0]
}
