package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"pawl/model/fault"
)

// output is a file being written. It appears under its name only when keep is
// called, whole or not at all. What is no file, a pipe or a device, gets it as it comes.
type output struct {
	io.Writer
	name string
	temp *os.File // nil where the output is stdout, or no file
	open *os.File // what is no file; else nil
}

// create opens an output of the given permissions beside its final name, before
// anything is asked of the shop, so that nothing is made that cannot be kept. A file
// that is there already is read by no more people than before; a link is followed.
// "-" is stdout.
func create(name string, stdout io.Writer, mode fs.FileMode) (*output, error) {
	if name == "-" {
		return &output{Writer: stdout, name: name}, nil
	}
	if name == "" {
		return nil, fault.New(fault.Malformed, "no file is named to write to").WithHint("give -o FILE, or -o - for stdout")
	}
	if info, err := os.Stat(name); err == nil {
		switch {
		case info.IsDir():
			return nil, fault.New(fault.Malformed, "%s is a folder", name).WithHint("give -o a file's name")
		case !info.Mode().IsRegular():
			f, err := os.OpenFile(name, os.O_WRONLY, 0)
			if err != nil {
				return nil, cannotWrite(name, err)
			}
			return &output{Writer: f, name: name, open: f}, nil
		}
		mode &= info.Mode().Perm()
		if name, err = filepath.EvalSymlinks(name); err != nil {
			return nil, cannotWrite(name, err)
		}
	}
	temp, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return nil, cannotWrite(name, err)
	}
	if err := temp.Chmod(mode); err != nil {
		temp.Close()
		os.Remove(temp.Name())
		return nil, cannotWrite(name, err)
	}
	return &output{Writer: temp, name: name, temp: temp}, nil
}

// keep puts the file under its name.
func (o *output) keep() error {
	if f := o.open; f != nil {
		o.open = nil
		if err := f.Close(); err != nil {
			return cannotWrite(o.name, err)
		}
		return nil
	}
	if o.temp == nil {
		return nil
	}
	err := errors.Join(o.temp.Sync(), o.temp.Close())
	if err == nil {
		err = os.Rename(o.temp.Name(), o.name)
	}
	if err != nil {
		os.Remove(o.temp.Name())
		err = cannotWrite(o.name, err)
	}
	o.temp = nil
	return err
}

// drop takes away what was written; after keep it does nothing.
func (o *output) drop() {
	if o.open != nil {
		o.open.Close()
	}
	if o.temp != nil {
		o.temp.Close()
		os.Remove(o.temp.Name())
	}
}

func cannotWrite(name string, err error) error {
	return fault.New(fault.Internal, "cannot write %s: %v", name, reason(err)).WithHint("choose another folder, or mend this one").WithCause(err)
}

// cannotRead is the fault of a file named on the command line.
func cannotRead(name string, err error) error {
	return fault.New(fault.Malformed, "cannot read %s: %v", name, reason(err)).WithHint("check the name").WithCause(err)
}

// reason is an error of the operating system without the file's name.
func reason(err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		return at.Err
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err
	}
	return err
}

// readText reads a small file whole.
func readText(name string, most int64) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", cannotRead(name, err)
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return "", cannotRead(name, err)
	}
	if int64(len(b)) > most {
		return "", fault.New(fault.TooLarge, "%s is over %d bytes", name, most).WithHint("check the name")
	}
	return string(b), nil
}

// readSecret reads a token file, which nobody else may be able to read.
func readSecret(name string) (string, error) {
	info, err := os.Stat(name)
	if err != nil {
		return "", cannotRead(name, err)
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 {
		return "", fault.New(fault.Unauthenticated, "token file %s has mode %04o: others can read it", name, mode).
			WithHint("make it yours alone: chmod 600 %s; revoke the token if somebody may have seen it", name)
	}
	return readText(name, 4096)
}

// written is what a command says of a file that it wrote.
type written struct {
	File    string   `json:"file"`
	Bytes   int64    `json:"bytes"`
	Numbers []string `json:"numbers,omitempty"`
}

// toFile has write fill a file, which appears only when all went well, and says
// so; to stdout it says nothing. Write returns the tool numbers concerned.
func (s *session) toFile(name string, mode fs.FileMode, write func(io.Writer) ([]string, error)) error {
	file, err := create(name, s.out, mode)
	if err != nil {
		return err
	}
	defer file.drop()
	count := &counter{w: file}
	numbers, err := write(count)
	if err != nil {
		return err
	}
	if err := file.keep(); err != nil {
		return err
	}
	switch {
	case name == "-":
		return nil
	case s.json:
		return s.object(written{name, count.n, numbers})
	}
	what := "wrote " + name
	if len(numbers) > 0 {
		what += fmt.Sprintf(" with %d labels", len(numbers))
	}
	return s.changed(what, name, strconv.FormatInt(count.n, 10), strings.Join(numbers, " "))
}

// counter counts the bytes on their way to w.
type counter struct {
	w io.Writer
	n int64
}

func (c *counter) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.n += int64(n)
	return n, err
}
