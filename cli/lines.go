package cli

import (
	"bufio"
	"context"
	"errors"
	"io"
	"strings"
	"time"
	"unicode"

	"pawl/model/fault"
)

// longest line taken from stdin, in bytes; no symbol holds nearly as much.
const maxLine = 64 << 10

// readLines calls each with every line of r: lines end with LF, CR or CRLF, are
// trimmed of white space and control characters as scanners send them, and
// blank ones are left out. It stops at the first error, or when ctx ends.
func readLines(ctx context.Context, r io.Reader, each func(line string) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	lines, failed := make(chan string), make(chan error, 1)
	// A read that blocks cannot be called off: the goroutine is left behind then.
	go func() {
		defer close(lines)
		scan := bufio.NewScanner(r)
		scan.Buffer(nil, maxLine)
		scan.Split(splitLine)
		for scan.Scan() {
			select {
			case lines <- scan.Text():
			case <-ctx.Done():
				return
			}
		}
		failed <- scan.Err()
	}()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case line, more := <-lines:
			if !more {
				return readFault(ctx, failed)
			}
			if line = trimLine(line); line == "" {
				continue
			}
			if err := each(line); err != nil {
				return err
			}
		}
	}
}

func readFault(ctx context.Context, failed <-chan error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	switch err := <-failed; {
	case err == nil:
		return nil
	case errors.Is(err, bufio.ErrTooLong):
		return fault.New(fault.Malformed, "a line on stdin is over %d bytes", maxLine).WithHint("send one number a line")
	default:
		return fault.New(fault.Malformed, "cannot read stdin: %v", err).WithCause(err)
	}
}

func trimLine(line string) string {
	return strings.TrimFunc(line, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
}

// splitLine ends a line at LF or CR; CRLF leaves a blank line between.
func splitLine(data []byte, atEOF bool) (int, []byte, error) {
	for i, b := range data {
		if b == '\n' || b == '\r' {
			return i + 1, data[:i], nil
		}
	}
	if atEOF && len(data) > 0 {
		return len(data), data, nil
	}
	return 0, nil, nil
}

// arrived is a scan with the moment in which it came.
type arrived struct {
	text string
	at   time.Time
}

const (
	// mostScans are read before the first is answered.
	mostScans = 4096
	// mostOfScan is what is looked at of a line, in bytes: more than any symbol holds.
	mostOfScan = 8 << 10
)

// scanLines gives lines as a scanner sends them, as they come; it is closed at the
// end of r. Unlike readLines it goes on after a line of any length: the rest of one
// that is longer than any symbol is passed over, so that it never makes a line.
func scanLines(ctx context.Context, r io.Reader) <-chan arrived {
	lines := make(chan arrived, mostScans)
	// A read that blocks cannot be called off: the goroutine is left behind then.
	go func() {
		defer close(lines)
		in := bufio.NewReader(r)
		line := make([]byte, 0, mostOfScan)
		for {
			b, err := in.ReadByte()
			if err == nil && b != '\n' && b != '\r' {
				if len(line) < mostOfScan {
					line = append(line, b)
				}
				continue
			}
			if text := trimLine(strings.ToValidUTF8(string(line), "\uFFFD")); text != "" {
				select {
				case lines <- arrived{text, time.Now()}:
				case <-ctx.Done():
					return
				}
			}
			if line = line[:0]; err != nil {
				return
			}
		}
	}()
	return lines
}
