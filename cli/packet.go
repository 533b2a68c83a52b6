package cli

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) packetCommand() *cli.Command {
	return &cli.Command{
		Name: "packet", Usage: "hand over what was recorded: to an insurer, the police, a buyer, or to a place elsewhere",
		Description: `pawl packet CLAIM -o FOLDER --max-part 10MB
pawl packet CLAIM -o FOLDER --add "actual cash value,tightenings"
pawl packet --ownership 00E-KM5 -o own.zip
pawl packet PACKET --again -o FOLDER
pawl packet --all -o elsewhere.zip
pawl packet --all -o later.zip --since elsewhere.zip
pawl packet --all --add tightenings,jobs -o jobs.zip
pawl packet --from elsewhere.zip --tools 00E-KM5,00F-2QA -o FOLDER`,
		ArgsUsage: "[CLAIM|PACKET]",
		Flags: []cli.Flag{
			toFile("write to the `FOLDER`, or with --ownership and --all to a file"),
			value("max-part", "parts of the claim document have at most this `SIZE`, such as 10MB"),
			values("add", "what is off by default, as `WORDS`, by commas: actual cash value, market value, tightenings, rechecks, overrides, jobs, customers, originals"),
			yes("reworded", "lines read otherwise than on papers that were given out, and this was mended there too"),
			value("ownership", "of one tool by its `NUMBER`: whose it is, in one ZIP"),
			yes("again", "build a packet again: the same bytes, and what changed since"),
			yes("all", "the copy that is kept elsewhere: all that proves the tools"),
			value("since", "with --all: leave out the originals that an earlier copy in `FILE` has; keep both"),
			values("from", "build it from a copy that was kept elsewhere, in `FILE`, without any shop; once for each"),
			value("tools", "with --from: of tools by their `NUMBERS`, by commas"),
			value("key", "with --from: the verifying `KEY` of the shop, or the file that holds it"),
			values("against", "with --from: a checkpoint kept elsewhere, in `FILE`; once for each"),
		},
		Action: func(c *cli.Context) error {
			o, err := parsePacket(c)
			if err != nil {
				return err
			}
			if len(o.from) > 0 {
				return p.packetFrom(c, o)
			}
			return action(p, func(*cli.Context) (packetOptions, error) { return o, nil }, runPacket)(c)
		},
	}
}

type packetOptions struct {
	wire.NewPacket
	id, ownership, output, since string
	again, all                   bool
	maxPart                      int64
	from, against, tools         []string
	key                          string
}

func parsePacket(c *cli.Context) (o packetOptions, err error) {
	o = packetOptions{ownership: c.String("ownership"), since: c.String("since"), again: c.Bool("again"), all: c.Bool("all"), from: c.StringSlice("from")}
	o.Reworded = c.Bool("reworded")
	for _, one := range c.StringSlice("add") {
		o.Add = append(o.Add, split(one)...)
	}
	o.tools = split(c.String("tools"))
	names, err := operands(c, 0, 1, "a CLAIM or PACKET")
	if err != nil {
		return o, err
	}
	if len(names) == 1 {
		o.id = names[0]
	}
	if err := o.one(); err != nil {
		return o, err
	}
	if err := o.idle(c.IsSet("max-part")); err != nil {
		return o, err
	}
	if c.IsSet("max-part") {
		if o.maxPart, err = wire.PartSize(c.String("max-part")); err != nil {
			return o, err
		}
	}
	if err := o.trust(c); err != nil {
		return o, err
	}
	oneFile := o.all || o.ownership != ""
	if o.output, err = need(c, "output", map[bool]string{true: "own.zip", false: "FOLDER"}[oneFile]); err != nil || oneFile {
		return o, err
	}
	if ext := filepath.Ext(o.output); slices.Contains([]string{".pdf", ".zip"}, strings.ToLower(ext)) {
		return o, fault.New(fault.Malformed, "%s is named like one file, and this packet is several", o.output).WithHint("name a folder for them: --output %s", strings.TrimSuffix(o.output, ext))
	}
	return o, nil
}

// one holds the command to one thing to do.
func (o packetOptions) one() error {
	given := 0
	for _, is := range []bool{o.id != "", o.ownership != "", o.all, len(o.tools) > 0} {
		if is {
			given++
		}
	}
	switch {
	case given != 1:
		return fault.New(fault.Malformed, "say what to hand over: a CLAIM, --ownership NUMBER, a PACKET --again, --all, or with --from --tools NUMBERS").WithHint("one of them")
	case len(o.tools) > 0 && len(o.from) == 0:
		return fault.New(fault.Malformed, "--tools is for a packet from a copy").WithHint("name the copy with --from FILE; of one tool of this shop: --ownership NUMBER")
	case len(o.from) > 0 && (o.all || o.again || o.ownership != ""):
		return fault.New(fault.Malformed, "from a copy comes a packet of --tools or of a CLAIM")
	case o.again && o.id == "":
		return fault.New(fault.Malformed, "--again is for a PACKET that was built")
	case o.since != "" && !o.all:
		return fault.New(fault.Malformed, "--since is for --all")
	}
	return nil
}

// idle refuses a flag that would change nothing: whoever gave it counts on it.
func (o packetOptions) idle(parts bool) error {
	switch {
	case parts && (o.all || o.ownership != "" || len(o.tools) > 0):
		return fault.New(fault.Malformed, "--max-part splits a claim document, and there is none in this").WithHint("leave it out, or give a CLAIM")
	case o.Reworded && (o.all || o.again || len(o.from) > 0):
		return fault.New(fault.Malformed, "--reworded is for a packet that is built new from the shop").WithHint("leave it out")
	}
	return nil
}

func (o *packetOptions) trust(c *cli.Context) (err error) {
	if len(o.from) == 0 && (c.IsSet("key") || c.IsSet("against")) {
		return fault.New(fault.Malformed, "--key and --against are for a packet from a copy")
	}
	if c.IsSet("key") {
		if o.key, err = keyText(c.String("key")); err != nil {
			return err
		}
	}
	for _, name := range c.StringSlice("against") {
		note, err := readText(name, maxCheckpoint)
		if err != nil {
			return err
		}
		o.against = append(o.against, note)
	}
	return nil
}

// split reads words by commas.
func split(s string) (out []string) {
	for _, one := range strings.Split(s, ",") {
		if one = strings.TrimSpace(one); one != "" {
			out = append(out, one)
		}
	}
	return out
}

// handedFile is a file that was written.
type handedFile struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// handedOver is a packet with the files that were written of it.
type handedOver struct {
	wire.Packet
	Output string       `json:"output"`
	Files  []handedFile `json:"files"`
}

func runPacket(ctx context.Context, s *session, o packetOptions) error {
	if o.all {
		return s.keepElsewhere(ctx, o)
	}
	v, err := s.packetFor(ctx, o)
	if err != nil {
		return err
	}
	out := handedOver{Packet: v, Output: o.output}
	fetch := func(name string) func(io.Writer) error {
		return func(w io.Writer) error { return s.client.PacketFile(ctx, v.ID, name, o.maxPart, w) }
	}
	if o.ownership != "" {
		const annex = "annex.zip"
		out.Files, err = writeAll([]toWrite{{o.output, fetch(annex)}}, s.out)
	} else {
		out.Files, err = writeFolder(o.output, v.Files, fetch)
	}
	if err != nil {
		return err
	}
	return s.handedOver(out)
}

// packetFor builds a packet, or finds the one that is to be built again.
func (s *session) packetFor(ctx context.Context, o packetOptions) (v wire.Packet, err error) {
	switch {
	case o.again:
		return s.client.Packet(ctx, o.id, o.maxPart, true)
	case o.ownership != "":
		return s.client.PacketOfTool(ctx, o.ownership, o.NewPacket)
	}
	if v, err = s.client.PacketOfClaim(ctx, o.id, o.NewPacket); err != nil || o.maxPart == 0 {
		return v, err
	}
	parts, err := s.client.Packet(ctx, v.ID, o.maxPart, false)
	v.Files = parts.Files
	return v, err
}

// toWrite is a file that is to be written.
type toWrite struct {
	path  string
	write func(io.Writer) error
}

// writeFolder writes files into a folder, all of them or none. Parts that an earlier
// packet left there would be taken for some of this one.
func writeFolder(dir string, names []string, fetch func(name string) func(io.Writer) error) ([]handedFile, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, cannotWrite(dir, err)
	}
	there, err := filepath.Glob(filepath.Join(dir, "claim*.pdf"))
	if err != nil {
		return nil, err
	}
	for _, path := range there {
		if name := filepath.Base(path); !slices.Contains(names, name) {
			return nil, fault.New(fault.Conflict, "%s holds %s of another packet", dir, name).WithHint("give a new folder, or take the old papers away")
		}
	}
	all := make([]toWrite, len(names))
	for i, name := range names {
		all[i] = toWrite{filepath.Join(dir, name), fetch(name)}
	}
	return writeAll(all, nil)
}

// writeAll writes files under other names first, and puts them under their own once all
// of them are whole.
func writeAll(all []toWrite, stdout io.Writer) (out []handedFile, err error) {
	var files []*output
	defer func() {
		for _, f := range files {
			f.drop()
		}
	}()
	for _, one := range all {
		f, err := create(one.path, stdout, 0o600)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
		sum := &summed{to: f, hash: sha256.New()}
		if err := one.write(sum); err != nil {
			return nil, err
		}
		out = append(out, handedFile{filepath.Base(one.path), sum.n, hex.EncodeToString(sum.hash.Sum(nil))})
	}
	for _, f := range files {
		if err := f.keep(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// summed hashes and counts what goes by.
type summed struct {
	to   io.Writer
	hash hash.Hash
	n    int64
}

func (s *summed) Write(p []byte) (int, error) {
	n, err := s.to.Write(p)
	s.hash.Write(p[:n])
	s.n += int64(n)
	return n, err
}

func (s *session) handedOver(v handedOver) error {
	for _, l := range v.Left {
		s.note("left out: " + l.Number + " " + l.What + ": " + l.Why)
	}
	for _, c := range v.Changed {
		s.note("changed since: " + c)
	}
	if v.Changed != nil && len(v.Changed) == 0 {
		s.note("nothing was recorded otherwise since")
	}
	if p := v.Police; p != nil {
		for _, c := range p.Changed {
			s.note("changed since the police sheet of " + s.when(p.Drawn) + ": " + c)
		}
	}
	s.note("the fingerprint, for the hand-over sheet and the letter: "+v.Fingerprint, "the key's fingerprint: "+v.Key)
	s.note(v.Cautions...)
	if v.Output == "-" {
		return nil
	}
	if s.json {
		return s.object(v)
	}
	for _, f := range v.Files {
		if err := s.changed(fmt.Sprintf("wrote %s: %d bytes", f.Name, f.Bytes), f.Name, strconv.FormatInt(f.Bytes, 10), f.SHA256); err != nil {
			return err
		}
	}
	if v.ID != "" {
		s.note("the same again: pawl packet " + v.ID + " --again -o FOLDER")
	}
	return nil
}
