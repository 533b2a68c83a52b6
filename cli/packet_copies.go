package cli

import (
	"archive/zip"
	"context"
	"encoding/json"
	"io"
	"os"
	"path"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// keptElsewhere is what the writing of such a copy says.
type keptElsewhere struct {
	Output string     `json:"output"`
	File   handedFile `json:"file"`
	Lost   int        `json:"lost"` // originals that the shop has no bytes of any more
	wire.Elsewhere
}

// keepElsewhere writes the copy that is kept elsewhere.
func (s *session) keepElsewhere(ctx context.Context, o packetOptions) error {
	var have wire.Have
	if o.since != "" {
		var err error
		if have.Have, err = originalsIn(o.since); err != nil {
			return err
		}
	}
	files, err := writeAll([]toWrite{{o.output, func(w io.Writer) error { return s.client.KeepElsewhere(ctx, have, o.Add, w) }}}, s.out)
	if err != nil {
		return err
	}
	state, err := s.client.Elsewhere(ctx)
	if err != nil {
		return err
	}
	s.note("keep it where a fire or a theft in the shop does not reach it, and the key's fingerprint apart; check it: pawl verify " + o.output)
	if len(o.Add) == 0 {
		s.note("tightenings, rechecks, overrides and the numbers of jobs are not in it; add them with --add")
	} else {
		s.note("put in on purpose: " + strings.Join(o.Add, ", "))
	}
	lost := 0
	if o.output != "-" {
		if lost, err = lostIn(o.output); err != nil {
			return err
		}
	}
	if lost > 0 {
		s.note(count(int64(lost), "original") + " of photos and papers could not be put in: the shop has no bytes of them any more; restore them from a backup, and make the copy anew")
	}
	if o.since != "" {
		s.note("photos and papers that " + o.since + " has are left out: keep both")
	}
	switch {
	case o.output == "-":
		return nil
	case s.json:
		return s.object(keptElsewhere{o.output, files[0], lost, state})
	}
	return s.changed("wrote "+o.output+": "+strconv.FormatInt(files[0].Bytes, 10)+" bytes, the ledger of "+count(state.Size, "line"), o.output, strconv.FormatInt(files[0].Bytes, 10), files[0].SHA256)
}

// lostIn counts the originals that a copy names and nobody has.
func lostIn(name string) (n int, err error) {
	z, err := zip.OpenReader(name)
	if err != nil {
		return 0, cannotRead(name, err)
	}
	defer z.Close()
	for _, f := range z.File {
		if !strings.HasSuffix(f.Name, "/data/standing.json") {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return 0, cannotRead(name, err)
		}
		defer r.Close()
		var head struct {
			Files []struct {
				Why string `json:"why"`
			} `json:"files"`
		}
		if err := json.NewDecoder(r).Decode(&head); err != nil {
			return 0, cannotRead(name, err)
		}
		for _, o := range head.Files {
			if o.Why != "" {
				n++
			}
		}
	}
	return n, nil
}

// originalsIn lists the originals that an earlier copy holds, by the names of its files.
func originalsIn(name string) (out []string, err error) {
	z, err := zip.OpenReader(name)
	if err != nil {
		return nil, cannotRead(name, err)
	}
	defer z.Close()
	for _, f := range z.File {
		dir, file := path.Split(f.Name)
		if sum, _, _ := strings.Cut(file, "."); strings.HasSuffix(dir, "/data/originals/") && len(sum) == 64 {
			out = append(out, sum)
		}
	}
	if len(out) == 0 {
		return nil, fault.New(fault.Malformed, "%s holds no photos and papers of an earlier copy", name).WithHint("give the file that pawl packet --all wrote, or leave --since out")
	}
	return out, nil
}

// packetFrom builds a packet from copies that were kept elsewhere. It opens no shop.
func (p *program) packetFrom(c *cli.Context, o packetOptions) error {
	s := p.streams(c)
	defer s.progress.clear()
	var files []copyFile
	for _, name := range o.from {
		f, err := os.Open(name)
		if err != nil {
			return cannotRead(name, err)
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil {
			return cannotRead(name, err)
		}
		files = append(files, copyFile{f, info.Size()})
	}
	made, err := packetFromCopies(c.Context, files, o)
	if err != nil {
		return aboutFile(o.from[0], err)
	}
	defer made.close()
	out := handedOver{Packet: made.Packet, Output: o.output}
	if out.Files, err = writeFolder(o.output, made.Files, func(name string) func(io.Writer) error { return made.write[name] }); err != nil {
		return err
	}
	s.note(made.said...)
	return s.handedOver(out)
}

// copyFile is a copy that was kept elsewhere.
type copyFile struct {
	from io.ReaderAt
	size int64
}

// madeFromCopies is a packet that was built without a shop.
type madeFromCopies struct {
	wire.Packet
	said  []string
	write map[string]func(io.Writer) error
	close func()
}
