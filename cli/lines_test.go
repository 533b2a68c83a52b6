package cli

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"unicode"

	"pawl/model/fault"
)

func linesOf(t testing.TB, text string) ([]string, error) {
	t.Helper()
	var got []string
	err := readLines(context.Background(), strings.NewReader(text), func(line string) error {
		got = append(got, line)
		return nil
	})
	return got, err
}

// TestReadLines is interfaces 1.4: LF, CR or CRLF; white space and control
// characters around a line go; blank lines are ignored.
func TestReadLines(t *testing.T) {
	for text, want := range map[string][]string{
		"":                                    nil,
		"\r\n\n \t\n":                         nil,
		"A\nB\rC\r\nD":                        {"A", "B", "C", "D"},
		" A B \n":                             {"A B"},
		"\x02A\x03\n":                         {"A"},
		"HTTPS://HOST/T/00EKM5\n":             {"HTTPS://HOST/T/00EKM5"},
		"--json\n-\n":                         {"--json", "-"},
		"\u00a0A\u2003\n":                     {"A"},
		strings.Repeat("A", maxLine-1) + "\n": {strings.Repeat("A", maxLine-1)},
	} {
		if got, err := linesOf(t, text); err != nil || !slices.Equal(got, want) {
			t.Errorf("%.40q: got %.80q (%v), want %.80q", text, got, err, want)
		}
	}
	if _, err := linesOf(t, strings.Repeat("A", 2*maxLine)); !fault.Is(err, fault.Malformed) {
		t.Errorf("a line without end: %v", err)
	}
}

// TestReadLinesStops when nobody wants more, although the reader blocks.
func TestReadLinesStops(t *testing.T) {
	r, w := io.Pipe()
	defer w.Close()
	ctx, cancel := context.WithCancel(context.Background())
	go w.Write([]byte("A\n"))
	err := readLines(ctx, r, func(string) error {
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	enough := errors.New("enough")
	if err := readLines(context.Background(), strings.NewReader("A\nB\n"), func(string) error { return enough }); !errors.Is(err, enough) {
		t.Errorf("got %v", err)
	}
}

// FuzzReadLines holds it against a plain reading of the same rules.
func FuzzReadLines(f *testing.F) {
	f.Add("A\nB\rC\r\nD")
	f.Add("\x02A\x03\n\n --json \n")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := linesOf(t, text)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		var want []string
		for _, line := range strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' }) {
			line = strings.TrimFunc(line, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
			if line != "" {
				want = append(want, line)
			}
		}
		if !slices.Equal(got, want) {
			t.Fatalf("%q: got %q, want %q", text, got, want)
		}
	})
}
