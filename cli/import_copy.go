package cli

import (
	"context"
	"io"
	"net/url"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

// importCopyOptions are those of the import of a copy of tools, a ZIP.
type importCopyOptions struct {
	file     string
	settings url.Values
}

// importCopyFlags are the flags of an import that only a copy of tools takes.
func importCopyFlags() []cli.Flag {
	return []cli.Flag{
		value("owner", "of a copy or of photos: whose the tools are here, by `NAME`; else the person of the name in the copy, or the shop"),
		value("key", "of a copy: the verifying `KEY` of the shop that it comes from, or the file that holds it"),
		value("against", "of a copy: a checkpoint of that shop kept elsewhere, in `FILE`"),
	}
}

func parseImportCopy(c *cli.Context, file string) (o importCopyOptions, err error) {
	o = importCopyOptions{file: file, settings: url.Values{}}
	if c.IsSet("owner") {
		o.settings.Set("owner", c.String("owner"))
	}
	if c.IsSet("key") {
		key, err := keyText(c.String("key"))
		if err != nil {
			return o, err
		}
		o.settings.Set("key", key)
	}
	if c.IsSet("against") {
		note, err := readText(c.String("against"), maxCheckpoint)
		if err != nil {
			return o, err
		}
		o.settings.Set("against", note)
	}
	return o, nil
}

// keyText takes a verifying key, or the name of a file that holds one.
func keyText(text string) (string, error) {
	if strings.Count(text, "+") >= 2 {
		return text, nil
	}
	key, err := readText(text, maxCheckpoint)
	return strings.TrimSpace(key), err
}

func runImportCopy(ctx context.Context, s *session, o importCopyOptions) error {
	info, err := os.Stat(o.file)
	if err != nil {
		return cannotRead(o.file, err)
	}
	r, err := s.client.ImportCopy(ctx, o.settings, info.Size(), func() (io.ReadCloser, error) {
		f, err := os.Open(o.file)
		if err != nil {
			return nil, cannotRead(o.file, err)
		}
		return f, nil
	})
	if err != nil {
		return aboutFile(o.file, err)
	}
	if s.json {
		return s.object(r)
	}
	return s.importedCopy(r)
}

func (s *session) importedCopy(r wire.ImportedCopy) error {
	for _, t := range r.Tools {
		sentence := t.Number + " registered: " + joined(" ", t.Kind, t.Serial) + ", of " + r.Owner + "; it was " + t.Was
		if err := s.changed(sentence, t.Number, "registered", t.Kind, t.Serial, r.Owner, t.Was); err != nil {
			return err
		}
	}
	s.note(r.Said...)
	s.note("next: print the labels of their new numbers: pawl labels NUMBER… --sheet letter-3x10 -o labels.pdf")
	return nil
}
