package cli

import (
	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) backupCommand() *cli.Command {
	return &cli.Command{
		Name: "backup", Usage: "copy the whole shop into a folder, while others work, and check the copy",
		Description: `pawl backup /mnt/disk/shop
pawl backup /mnt/disk/shop --part 3/10
pawl backup --check /mnt/disk/shop`,
		ArgsUsage: "FOLDER",
		Flags: []cli.Flag{
			yes("check", "write nothing: look through the backup that is in FOLDER"),
			value("part", "of the originals, read only one part again, as `N/OF`; the rest is checked whole"),
		},
		Action: func(c *cli.Context) error {
			to, err := p.backupFolder(c)
			if err != nil {
				return err
			}
			w := p.watch(c)
			if c.Bool("check") {
				done, err := checkBackup(c.Context, to, c.String("part"))
				w.clear()
				return p.sayBackup(c, "the backup holds", done, err)
			}
			f, err := p.folder(c)
			if err != nil {
				return err
			}
			done, err := backupTo(c.Context, f, to, c.String("part"))
			w.clear()
			return p.sayBackup(c, "backed up", done, err, "keep it on another disk, and one in another house: whoever has it can read all of the shop, and sign in its name")
		},
	}
}

func (p *program) restoreCommand() *cli.Command {
	return &cli.Command{
		Name: "restore", Usage: "bring a backup back into an empty data folder",
		Description: `pawl restore /mnt/disk/shop --data DIR
pawl restore /mnt/disk/shop --data DIR --confirm "Gull Lane Garage"
pawl restore /mnt/disk/shop --data DIR --originals s3://gull-lane/shop`,
		ArgsUsage: "FOLDER",
		Flags:     []cli.Flag{value("confirm", "put the shop of this `NAME`, which is in the data folder, aside")},
		Action: func(c *cli.Context) error {
			from, err := p.backupFolder(c)
			if err != nil {
				return err
			}
			if c.String("db") != "" {
				return fault.New(fault.Malformed, "a backup comes back into a folder, not into a database").
					WithHint("restore it with --data DIR alone; then bring the shop into an empty database: pawl move --data DIR --to postgres://USER@HOST/NAME")
			}
			f, err := p.folder(c)
			if err != nil {
				return err
			}
			w := p.watch(c)
			done, err := restoreFrom(c.Context, f, from, c.String("confirm"))
			w.clear()
			return p.sayBackup(c, "restored", done, err, "what was recorded after "+done.Taken.String()+" is not in it; a checkpoint given out later no longer fits this ledger",
				"whoever was let in then is let in again, also who was shut out since: look at pawl token list and pawl people devices")
		},
	}
}

// backupFolder reads the one operand of both.
func (p *program) backupFolder(c *cli.Context) (string, error) {
	if err := localOnly(c); err != nil {
		return "", err
	}
	all, err := operands(c, 1, 1, "the folder of the backup")
	if err != nil {
		return "", err
	}
	return all[0], nil
}

// sayBackup tells what was done; a backup that does not hold is a failure.
func (p *program) sayBackup(c *cli.Context, what string, done wire.Backup, err error, notes ...string) error {
	if err != nil {
		return err
	}
	s := printer{out: answers{p.out}, err: p.err, terminal: isTerminal(p.out), json: c.Bool("json"), quiet: c.Bool("quiet")}
	if done.OK {
		s.note(notes...)
	} else {
		what = "DOES NOT HOLD"
	}
	if s.json {
		err = s.object(done)
	} else {
		err = s.record(backupFields(what, done))
	}
	if err == nil && !done.OK {
		return told{exitFailed}
	}
	return err
}

func backupFields(what string, done wire.Backup) []field {
	fields := []field{
		{"answer", what}, {"shop", done.Shop}, {"taken", done.Taken.String()}, {"lines", count(done.Lines, "")}, {"root", done.Root},
		{"originals", count(done.Originals, "")}, {"copied", count(done.Copied, "")},
	}
	if done.Before != "" {
		fields = append(fields, field{"put aside in", done.Before})
	}
	for _, p := range done.Problems {
		fields = append(fields, field{"problem", p})
	}
	for _, said := range done.Said {
		fields = append(fields, field{"said", said})
	}
	return fields
}
