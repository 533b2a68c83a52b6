package views

import (
	"context"
	"fmt"
	"image"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"pawl/model/evidence"
	"pawl/model/fault"
)

// waitTime is how long a decoding may wait for its turn.
const waitTime = 60 * time.Second

// parseConverter reads a command as a program and its arguments, split at blanks.
// It never goes through a shell.
func parseConverter(command string) ([]string, error) {
	words := strings.Fields(command)
	if len(words) == 0 {
		return nil, nil
	}
	all := strings.Join(words[1:], " ")
	if !strings.Contains(all, "{in}") || !strings.Contains(all, "{out}") {
		return nil, fault.New(fault.Invalid, "the HEIC converter %q lacks {in} or {out}", command).
			WithHint(`write a program with its arguments, such as PAWL_HEIC_CONVERTER="heif-convert -q 90 {in} {out}"`)
	}
	return words, nil
}

// convert has the converter make a JPEG of a HEIC and gives its copy. Turning is
// the converter's: a HEIC says so in its own way, and its Exif does not count
// (ISO/IEC 23008-12; from memory).
func (m *Maker) convert(ctx context.Context, f io.ReadSeeker, media evidence.Media, side int) (*image.RGBA, error) {
	if m.converter == nil {
		return nil, noView("it is HEIC, and no converter is set").
			WithHint("set PAWL_HEIC_CONVERTER, or get the original, without view")
	}
	if media.Width*media.Height > evidence.MaxViewPixels {
		return nil, noView(fmt.Sprintf("%d x %d is over 64 megapixels", media.Width, media.Height))
	}
	dir, err := os.MkdirTemp("", "pawl-heic-*")
	if err != nil {
		return nil, diskFault(err)
	}
	defer os.RemoveAll(dir)
	in, out := filepath.Join(dir, "in.heic"), filepath.Join(dir, "out.jpg")
	if err := save(in, f); err != nil {
		return nil, err
	}
	// The converter holds the whole picture too, so it has a turn of its own.
	leave, err := m.gate.enter(ctx, media.Width*media.Height)
	if err != nil {
		return nil, err
	}
	err = run(ctx, m.limit, m.converter, in, out)
	leave()
	if err != nil {
		return nil, err
	}
	return m.reduceFile(ctx, out, side)
}

// reduceFile treats what a converter wrote like anything from outside.
func (m *Maker) reduceFile(ctx context.Context, name string, side int) (*image.RGBA, error) {
	made, err := os.Open(name)
	if err != nil {
		return nil, noView("the converter wrote nothing")
	}
	defer made.Close()
	info, err := made.Stat()
	if err != nil {
		return nil, diskFault(err)
	}
	media, err := evidence.Inspect(made, info.Size(), "", "")
	if err != nil || !media.Views {
		return nil, noView("the converter did not write a JPEG or PNG that can be shown")
	}
	media.Orientation = 1
	return m.reduce(ctx, made, media, side)
}

// save copies an original for the converter, which is not trusted with it.
func save(name string, f io.ReadSeeker) error {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return diskFault(err)
	}
	file, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return diskFault(err)
	}
	_, err = io.Copy(file, f)
	if closing := file.Close(); err == nil {
		err = closing
	}
	return diskFault(err)
}

// run starts the converter, and ends it where it takes too long.
func run(ctx context.Context, limit time.Duration, command []string, in, out string) error {
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	args := slices.Clone(command[1:])
	for i, a := range args {
		args[i] = strings.NewReplacer("{in}", in, "{out}", out).Replace(a)
	}
	c := exec.CommandContext(ctx, command[0], args...)
	c.Dir = filepath.Dir(in)
	c.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + c.Dir, "TMPDIR=" + c.Dir}
	c.WaitDelay = time.Second
	if err := c.Run(); err != nil {
		if ctx.Err() != nil {
			return noView(fmt.Sprintf("the converter took over %s", limit))
		}
		return noView("the converter failed: " + err.Error())
	}
	return nil
}
