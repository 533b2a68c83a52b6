package cli

import (
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

// verifyFile checks a packet, or a copy of tools, without any shop.
func (p *program) verifyFile(c *cli.Context) error {
	names, err := operands(c, 1, 1, "a FILE")
	if err != nil {
		return err
	}
	if c.IsSet("part") || c.IsSet("rolls") {
		return fault.New(fault.Malformed, "--part and --rolls are for a shop; a file is checked whole")
	}
	var o packetAgainst
	if c.IsSet("key") {
		if o.key, err = keyText(c.String("key")); err != nil {
			return err
		}
	}
	if c.IsSet("authority-roots") {
		if o.roots, err = readText(c.String("authority-roots"), maxCheckpoint); err != nil {
			return err
		}
		if certificates(o.roots) == "" {
			return fault.New(fault.Invalid, "%s holds no certificate", c.String("authority-roots")).WithHint("give a file in PEM, which begins with -----BEGIN CERTIFICATE-----")
		}
	}
	for _, name := range c.StringSlice("against") {
		note, err := readText(name, maxCheckpoint)
		if err != nil {
			return err
		}
		o.against = append(o.against, note)
	}
	f, err := os.Open(names[0])
	if err != nil {
		return cannotRead(names[0], err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return cannotRead(names[0], err)
	}
	if err := namesAPaper(names[0], info); err != nil {
		return err
	}
	s := p.streams(c)
	defer s.progress.clear()
	v, err := verifyPacket(f, info.Size(), o)
	if err != nil {
		return aboutFile(names[0], err)
	}
	return s.sayVerified(v)
}

// namesAPaper tells who names a paper of a packet, or its folder, what to name instead: a
// paper is held against the annex that came with it.
func namesAPaper(name string, info os.FileInfo) error {
	annex := filepath.Join(filepath.Dir(name), "annex.zip")
	switch strings.ToLower(filepath.Ext(name)) {
	default:
		if !info.IsDir() {
			return nil
		}
		annex = filepath.Join(name, "annex.zip")
	case ".pdf", ".xlsx", ".csv":
	}
	return fault.New(fault.Malformed, "%s is not what is verified: that is the ZIP which came with it", name).WithHint("pawl verify %s", annex)
}
