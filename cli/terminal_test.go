package cli_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/creack/pty"
)

// console is a command at a terminal, with what the terminal was sent.
type console struct {
	*exec.Cmd
	tty  *os.File
	said bytes.Buffer
}

// atTerminal starts a command whose streams are all a terminal, of 80 columns.
func atTerminal(t *testing.T, name string, args ...string) *console {
	t.Helper()
	c := &console{Cmd: exec.Command(name, args...)}
	c.Env = append(os.Environ(), "TERM=xterm")
	tty, err := pty.StartWithSize(c.Cmd, &pty.Winsize{Rows: 24, Cols: 80})
	if err != nil {
		t.Fatal(err)
	}
	c.tty = tty
	t.Cleanup(func() { c.tty.Close() })
	return c
}

// until reads what the command says until text is among it.
func (c *console) until(t *testing.T, text string) {
	t.Helper()
	for b := make([]byte, 1); !strings.Contains(c.said.String(), text); {
		if _, err := c.tty.Read(b); err != nil {
			t.Fatalf("it ended before it said %q: %q", text, c.said.String())
		}
		c.said.Write(b)
	}
}

// end reads to the end and gives the exit code. A terminal whose other side is
// closed reads as EIO on Linux.
func (c *console) end(t *testing.T) int {
	t.Helper()
	if _, err := io.Copy(&c.said, c.tty); err != nil && !errors.Is(err, syscall.EIO) {
		t.Fatal(err)
	}
	if err := c.Wait(); err != nil && c.ProcessState == nil {
		t.Fatal(err)
	}
	return c.ProcessState.ExitCode()
}

// TestPrompt answers the question of `gone` at a terminal: y alone is a yes, and
// after all else the tool is still there.
func TestPrompt(t *testing.T) {
	t.Parallel()
	data, _, numbers := shopFolder(t, itself, 8)
	for i, c := range []struct {
		typed string
		code  int
		says  string
	}{
		{"y\n", 0, "gone: sold"},
		{" YES \n", 0, "gone: sold"},
		{"N\n", 2, "nothing was done"},
		{"yep\n", 2, "nothing was done"},
		{"\n", 2, "nothing was done"},
		{"\x04", 2, "nothing was done"},      // Ctrl-D: the input ends
		{"y\x04\x04", 2, "nothing was done"}, // the line is not ended
		{"\x03", 130, "pawl: interrupted"},   // Ctrl-C
	} {
		number := numbers[i]
		at := atTerminal(t, itself, "--data", data, "gone", number, "--why", "sold")
		at.until(t, "Go on? [y/N] ")
		if said := at.said.String(); !strings.Contains(said, number) || !strings.Contains(said, "ratchet") {
			t.Errorf("it does not say what is to go: %q", said)
		}
		if _, err := at.tty.WriteString(c.typed); err != nil {
			t.Fatal(err)
		}
		if code := at.end(t); code != c.code || !strings.Contains(at.said.String(), c.says) {
			t.Errorf("%q: exit %d, want %d\n%s", c.typed, code, c.code, at.said.String())
		}
		shown := run(t, nil, itself, "--data", data, "show", number, "--json")
		if gone := strings.Contains(shown, `"gone_why":"sold"`); gone != (c.code == 0) {
			t.Errorf("%q: gone %v\n%s", c.typed, gone, shown)
		}
	}
	// Nobody is asked who said not to be.
	at := atTerminal(t, itself, "--data", data, "--no-input", "gone", numbers[7], "--why", "sold")
	if code := at.end(t); code != 2 || strings.Contains(at.said.String(), "[y/N]") || !strings.Contains(at.said.String(), "--force") {
		t.Errorf("--no-input: exit %d\n%s", code, at.said.String())
	}
}

// photoFolder fills a folder with photos that no code is in.
func photoFolder(t *testing.T, n int) string {
	t.Helper()
	folder := t.TempDir()
	for i := range n {
		picture := image.NewGray(image.Rect(0, 0, 400, 300))
		for p := range picture.Pix {
			picture.Pix[p] = uint8(i)
		}
		picture.SetGray(200, 150, color.Gray{Y: 255})
		var b bytes.Buffer
		if err := jpeg.Encode(&b, picture, nil); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("IMG_%04d.JPG", i)), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

// TestProgress: a person at a terminal sees how far it is; nobody else does, as
// the Command Line Interface Guidelines have it ("Output").
func TestProgress(t *testing.T) {
	t.Parallel()
	data, folder := filepath.Join(t.TempDir(), "shop"), photoFolder(t, 6)
	words := []string{"--data", data, "import", "photos", folder}
	at := atTerminal(t, itself, words...)
	if code := at.end(t); code != 0 {
		t.Fatalf("exit %d\n%s", code, at.said.String())
	}
	if said := at.said.String(); !strings.Contains(said, "reading photos") || !strings.Contains(said, "/6)") {
		t.Errorf("no progress: %q", said)
	}
	for what, more := range map[string][]string{"quiet": {"--quiet"}, "JSON": {"--json"}, "debug": {"--debug"}} {
		at := atTerminal(t, itself, append(more, words...)...)
		if code := at.end(t); code != 0 || strings.Contains(at.said.String(), "reading photos") {
			t.Errorf("%s: exit %d\n%s", what, code, at.said.String())
		}
	}
	piped := exec.Command(itself, words...)
	if said, err := piped.CombinedOutput(); err != nil || strings.Contains(string(said), "reading photos") || strings.Contains(string(said), "\r") {
		t.Errorf("into a pipe: %v\n%s", err, said)
	}
	dumb := exec.Command(itself, words...)
	dumb.Env = append(os.Environ(), "TERM=dumb")
	tty, err := pty.Start(dumb)
	if err != nil {
		t.Fatal(err)
	}
	defer tty.Close()
	c := &console{Cmd: dumb, tty: tty}
	if code := c.end(t); code != 0 || strings.Contains(c.said.String(), "reading photos") {
		t.Errorf("dumb: exit %d\n%s", code, c.said.String())
	}
}
