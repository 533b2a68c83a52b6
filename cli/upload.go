package cli

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// paper is a photo or paper named on the command line.
type paper struct{ kind, file string }

// papersOf reads the flags --photo and --paper: [KIND=]FILE.
func papersOf(c *cli.Context) ([]paper, error) {
	var all []paper
	for _, from := range []struct{ flag, kind string }{{"photo", "whole"}, {"paper", "receipt"}} {
		for _, text := range c.StringSlice(from.flag) {
			kind, file, named := strings.Cut(text, "=")
			if !named {
				kind, file = from.kind, text
			}
			if kind == "" || file == "" {
				return nil, fault.New(fault.Malformed, "--%s %q names no kind or no file", from.flag, text).
					WithHint("write --%s %s=FILE", from.flag, from.kind)
			}
			all = append(all, paper{kind, file})
		}
	}
	return all, nil
}

// upload stores the files and returns what an act is to name them by. Nothing
// of the shop changes by it: bytes that no act names are removed later.
func (s *session) upload(ctx context.Context, papers []paper) ([]wire.Attach, error) {
	named := make([]wire.Attach, len(papers))
	sizes := make([]int64, len(papers))
	for i, p := range papers {
		sha, size, err := hashFile(p.file)
		if err != nil {
			return nil, err
		}
		named[i], sizes[i] = wire.Attach{Kind: p.kind, SHA256: sha, Name: filepath.Base(p.file)}, size
	}
	sent := map[string]bool{}
	for i, p := range papers {
		if sent[named[i].SHA256] {
			continue
		}
		original, err := s.put(ctx, p.file, named[i], sizes[i])
		if err != nil {
			return nil, aboutFile(p.file, err)
		}
		if original.Note != "" {
			s.note(p.file + ": " + original.Note)
		}
		sent[named[i].SHA256] = true
	}
	return named, nil
}

// send stores one file and gives what an act is to name it by, and what it is.
func (s *session) send(ctx context.Context, p paper) (wire.Attach, wire.Original, error) {
	sha, size, err := hashFile(p.file)
	if err != nil {
		return wire.Attach{}, wire.Original{}, err
	}
	named := wire.Attach{Kind: p.kind, SHA256: sha, Name: filepath.Base(p.file)}
	original, err := s.put(ctx, p.file, named, size)
	return named, original, err
}

func (s *session) put(ctx context.Context, file string, named wire.Attach, size int64) (wire.Original, error) {
	open := func() (io.ReadCloser, error) {
		f, err := os.Open(file)
		if err != nil {
			return nil, cannotRead(file, err)
		}
		return f, nil
	}
	return s.client.Upload(ctx, named.SHA256, named.Name, "", size, open)
}

// aboutFile says which of several files a fault is about.
func aboutFile(name string, err error) error {
	f := *fault.Of(err)
	f.Message = name + ": " + f.Message
	return &f
}

func hashFile(name string) (sha string, size int64, err error) {
	// Looked at first: opening a pipe would wait for its other end.
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() {
		return "", 0, fault.New(fault.Malformed, "cannot read %s: it is no file", name).WithHint("give a photo, or a PDF")
	}
	f, err := os.Open(name)
	if err != nil {
		return "", 0, cannotRead(name, err)
	}
	defer f.Close()
	hash := sha256.New()
	if size, err = io.Copy(hash, f); err != nil {
		return "", 0, cannotRead(name, err)
	}
	return hex.EncodeToString(hash.Sum(nil)), size, nil
}
