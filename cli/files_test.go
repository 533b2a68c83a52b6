package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"pawl/model/fault"
)

func dirNames(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// TestOutputIsWholeOrNotThere: the file comes under its name when it is kept;
// one that is dropped leaves what was there before, and nothing beside it.
func TestOutputIsWholeOrNotThere(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "label.png")
	for _, c := range []struct {
		text string
		keep bool
		want string
	}{{"first", true, "first"}, {"half", false, "first"}, {"second", true, "second"}} {
		o, err := create(name, io.Discard, 0o600)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(o, c.text); err != nil {
			t.Fatal(err)
		}
		if c.keep {
			if err := o.keep(); err != nil {
				t.Fatal(err)
			}
		}
		o.drop()
		if got, err := os.ReadFile(name); err != nil || string(got) != c.want {
			t.Errorf("after %q the file holds %q (%v), want %q", c.text, got, err, c.want)
		}
		if names := dirNames(t, dir); len(names) != 1 {
			t.Errorf("after %q the folder holds %q", c.text, names)
		}
	}
	if info, err := os.Stat(name); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v (%v), want 0600", info.Mode(), err)
	}
}

// TestOutputGoesWhereTheNameLeads: a pipe stays a pipe, a link a link, and what few could
// read no more can read.
func TestOutputGoesWhereTheNameLeads(t *testing.T) {
	dir := t.TempDir()
	file, link, pipe := filepath.Join(dir, "file"), filepath.Join(dir, "link"), filepath.Join(dir, "pipe")
	if err := errors.Join(os.WriteFile(file, nil, 0o600), os.Symlink("file", link), syscall.Mkfifo(pipe, 0o600)); err != nil {
		t.Fatal(err)
	}
	came := make(chan string)
	go func() {
		b, err := os.ReadFile(pipe)
		came <- fmt.Sprint(string(b), err)
	}()
	for name, text := range map[string]string{link: "by the link", pipe: "through the pipe"} {
		o, err := create(name, io.Discard, 0o644)
		if err != nil {
			t.Fatal(name, err)
		}
		if _, err := io.WriteString(o, text); err != nil {
			t.Fatal(name, err)
		}
		if err := o.keep(); err != nil {
			t.Fatal(name, err)
		}
		o.drop()
	}
	if got := <-came; got != "through the pipe<nil>" {
		t.Errorf("the pipe brought %q", got)
	}
	if b, err := os.ReadFile(file); err != nil || string(b) != "by the link" {
		t.Errorf("the file holds %q, %v", b, err)
	}
	for name, want := range map[string]fs.FileMode{file: 0o600, link: fs.ModeSymlink, pipe: fs.ModeNamedPipe | 0o600} {
		if info, err := os.Lstat(name); err != nil || info.Mode()&^0o777 != want&^0o777 || want.IsRegular() && info.Mode() != want {
			t.Errorf("%s is %v now, want %v (%v)", name, info.Mode(), want, err)
		}
	}
}

func TestToFile(t *testing.T) {
	failed := errors.New("failed half-way")
	dir := t.TempDir()
	for _, name := range []string{filepath.Join(dir, "a"), "-"} {
		for _, want := range []error{failed, nil} {
			var out bytes.Buffer
			s := &session{printer: printer{out: &out, err: io.Discard}}
			err := s.toFile(name, 0o644, func(w io.Writer) ([]string, error) {
				_, _ = io.WriteString(w, "x")
				return nil, want
			})
			if !errors.Is(err, want) {
				t.Errorf("%s: got %v, want %v", name, err, want)
			}
			if name == "-" && out.String() != "x" {
				t.Errorf("stdout got %q", out.String())
			}
			if _, err := os.Stat(name); name != "-" && (err == nil) != (want == nil) {
				t.Errorf("the file is there: %v, after %v", err == nil, want)
			}
		}
	}
}

func TestCreateRefuses(t *testing.T) {
	for name, kind := range map[string]fault.Kind{
		"": fault.Malformed, t.TempDir(): fault.Malformed, filepath.Join(t.TempDir(), "no", "such"): fault.Internal,
	} {
		if _, err := create(name, io.Discard, 0o644); !fault.Is(err, kind) {
			t.Errorf("%q: got %v, want %s", name, err, kind)
		}
	}
}

// TestReadSecret: a token file that anybody else can read is refused.
func TestReadSecret(t *testing.T) {
	name := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(name, []byte("s3cret\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		mode os.FileMode
		ok   bool
	}{{0o600, true}, {0o400, true}, {0o640, false}, {0o604, false}, {0o620, false}} {
		if err := os.Chmod(name, c.mode); err != nil {
			t.Fatal(err)
		}
		secret, err := readSecret(name)
		if c.ok && (err != nil || secret != "s3cret\n") {
			t.Errorf("mode %04o: got %q, %v", c.mode, secret, err)
		}
		if !c.ok && (!fault.Is(err, fault.Unauthenticated) || secret != "") {
			t.Errorf("mode %04o: got %q, %v", c.mode, secret, err)
		}
	}
}

// TestDefaultDir is interfaces 1.5: a relative $XDG_DATA_HOME is ignored.
func TestDefaultDir(t *testing.T) {
	for _, c := range []struct {
		env  map[string]string
		want string
	}{
		{map[string]string{"PAWL_DATA": "here", "XDG_DATA_HOME": "/x", "HOME": "/h"}, "here"},
		{map[string]string{"XDG_DATA_HOME": "/x", "HOME": "/h"}, "/x/pawl"},
		{map[string]string{"XDG_DATA_HOME": "x", "HOME": "/h"}, "/h/.local/share/pawl"},
		{map[string]string{"HOME": "/h"}, "/h/.local/share/pawl"},
		{map[string]string{}, ""},
	} {
		got, err := defaultDir(func(name string) string { return c.env[name] })
		if got != c.want || (err != nil) != (c.want == "") {
			t.Errorf("%v: got %q (%v), want %q", c.env, got, err, c.want)
		}
	}
}
