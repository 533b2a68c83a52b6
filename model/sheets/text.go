package sheets

import (
	"bufio"
	"errors"
	"io"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"pawl/model/fault"
)

// text turns the bytes of a file into characters: UTF-8 with or without byte
// order mark, UTF-16 with one, else Windows-1252. It takes a file for UTF-8
// until a byte proves otherwise, so that nothing need be read twice; nothing is
// ever replaced silently.
type text struct {
	src    *bufio.Reader
	read   func() (rune, error)
	many   bool // characters of several bytes came: it is UTF-8
	as1252 bool
	head   []rune // read ahead
	at     int
	ended  error // what came after head
}

// newText finds the byte order mark.
func newText(r io.Reader) (*text, error) {
	t := &text{src: bufio.NewReaderSize(&bounded{r, MaxBytes}, 64<<10)}
	mark, err := t.src.Peek(3)
	if err != nil && err != io.EOF {
		return nil, unread(err)
	}
	t.read = t.utf8
	switch {
	case len(mark) == 3 && string(mark) == "\xef\xbb\xbf":
		t.many = true
		_, err = t.src.Discard(3)
	case len(mark) >= 2 && mark[0] == 0xff && mark[1] == 0xfe:
		t.read = t.utf16(false)
		_, err = t.src.Discard(2)
	case len(mark) >= 2 && mark[0] == 0xfe && mark[1] == 0xff:
		t.read = t.utf16(true)
		_, err = t.src.Discard(2)
	default:
		return t, nil
	}
	if err == nil && !t.many && t.noCells() {
		err = fault.New(fault.Invalid, "the file begins as UTF-16 text does, and nothing in it parts one cell from another: this is no spreadsheet").
			WithHint("choose a CSV or XLSX file, or save it again as CSV UTF-8")
	}
	return t, err
}

// noCells says that the first characters of UTF-16 text are none of ASCII, among
// which are all that part cells and rows.
func (t *text) noCells() bool {
	head := t.sample(sampleRunes)
	return len(head) > 0 && !slices.ContainsFunc(head, func(r rune) bool { return r < utf8.RuneSelf })
}

// sample reads ahead and gives the first characters of the file.
func (t *text) sample(most int) []rune {
	for len(t.head) < most && t.ended == nil {
		r, err := t.read()
		if err != nil {
			t.ended = err
			break
		}
		t.head = append(t.head, r)
	}
	return t.head
}

// next gives the next character; io.EOF at the end.
func (t *text) next() (rune, error) {
	if t.at < len(t.head) {
		t.at++
		return t.head[t.at-1], nil
	}
	if t.ended != nil {
		return 0, t.ended
	}
	return t.read()
}

func (t *text) utf8() (rune, error) {
	if t.as1252 {
		return t.windows()
	}
	r, size, err := t.src.ReadRune()
	switch {
	case err != nil:
		return 0, unread(err)
	case r == utf8.RuneError && size == 1 && t.many:
		return 0, fault.New(fault.Invalid, "the file is UTF-8 text at first, and then not").WithHint("save it again as CSV UTF-8")
	case r == utf8.RuneError && size == 1:
		t.as1252 = true
		if err := t.src.UnreadRune(); err != nil {
			return 0, err
		}
		return t.windows()
	}
	t.many = t.many || size > 1
	return r, nil
}

// windows reads Windows-1252, in which five bytes stand for nothing (Unicode
// mapping table CP1252.TXT).
func (t *text) windows() (rune, error) {
	b, err := t.src.ReadByte()
	if err != nil {
		return 0, unread(err)
	}
	switch b {
	case 0x81, 0x8d, 0x8f, 0x90, 0x9d:
		return 0, fault.New(fault.Invalid, "the file is neither UTF-8 nor Windows-1252 text: byte 0x%02X stands for nothing there", b).
			WithHint("save it again as CSV UTF-8")
	}
	return charmap.Windows1252.DecodeByte(b), nil
}

func (t *text) utf16(big bool) func() (rune, error) {
	unit := func() (rune, error) {
		var b [2]byte
		if _, err := io.ReadFull(t.src, b[:]); err != nil {
			if errors.Is(err, io.ErrUnexpectedEOF) {
				return 0, broken16()
			}
			return 0, unread(err)
		}
		if big {
			b[0], b[1] = b[1], b[0]
		}
		return rune(b[0]) | rune(b[1])<<8, nil
	}
	return func() (rune, error) {
		first, err := unit()
		if err != nil || !utf16.IsSurrogate(first) {
			return first, err
		}
		second, err := unit()
		if err == io.EOF {
			return 0, broken16()
		}
		r := utf16.DecodeRune(first, second)
		if err == nil && r == utf8.RuneError {
			err = broken16()
		}
		return r, err
	}
}

func broken16() error {
	return fault.New(fault.Invalid, "the file says that it is UTF-16 text, and half a character stands in it").WithHint("save it again as CSV UTF-8")
}

// unread says why bytes could not be had; a fault and the end stay what they are.
func unread(err error) error {
	var f *fault.Error
	if err == io.EOF || errors.As(err, &f) {
		return err
	}
	return fault.New(fault.Malformed, "the file could not be read to its end").WithCause(err)
}

func whole(n int) string { return strconv.Itoa(n) }
