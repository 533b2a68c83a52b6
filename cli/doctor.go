package cli

import (
	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

// maxCertificate is far beyond any chain of certificates, in bytes.
const maxCertificate = 1 << 20

func (p *program) doctorCommand() *cli.Command {
	return &cli.Command{
		Name: "doctor", Usage: "look at what the shop rests on: store, disk, rights, originals, key, clock, last checkpoint, backup and copy elsewhere",
		Description: `pawl doctor
pawl doctor --tls-cert tools.crt`,
		Flags: []cli.Flag{value("tls-cert", "look at the certificate in `FILE` (PEM) too, the one that serve is given")},
		Action: func(c *cli.Context) error {
			if err := localOnly(c); err != nil {
				return err
			}
			if err := noOperands(c); err != nil {
				return err
			}
			f, err := p.folder(c)
			if err != nil {
				return err
			}
			var certificate []byte
			if name := c.String("tls-cert"); name != "" {
				text, err := readText(name, maxCertificate)
				if err != nil {
					return err
				}
				certificate = []byte(text)
			}
			d, err := examine(c.Context, f, certificate)
			if err != nil {
				return err
			}
			return p.sayDoctored(c, d)
		},
	}
}

// sayDoctored shows the list; what is to be looked at makes the answer no.
func (p *program) sayDoctored(c *cli.Context, d wire.Doctored) (err error) {
	s := printer{out: answers{p.out}, err: p.err, terminal: isTerminal(p.out), json: c.Bool("json"), quiet: c.Bool("quiet")}
	if s.json {
		err = s.object(d)
	} else {
		rows := [][]string{}
		for _, each := range d.Checkups {
			rows = append(rows, []string{each.What, each.Health, each.Says, each.Do})
		}
		err = s.table([]string{"what", "health", "says", "do"}, rows)
	}
	if err == nil && !d.OK {
		return told{exitNo}
	}
	return err
}
