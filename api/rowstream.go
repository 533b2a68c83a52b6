package api

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
)

// rowStream writes a JSON object of which one member is a long list, without ever
// holding the list.
type rowStream struct {
	w     *bufio.Writer
	rest  []byte // what follows the list
	first bool
}

// openRows writes the object up to its list, which is to be empty in it.
func openRows(w io.Writer, whole any, member string) (*rowStream, error) {
	body, err := encode(whole)
	if err != nil {
		return nil, err
	}
	before, after, found := bytes.Cut(body, []byte(`"`+member+`":[]`)) // within a text the quotes are escaped
	if !found {
		return nil, fmt.Errorf("%T has no empty list %q", whole, member)
	}
	s := &rowStream{w: bufio.NewWriterSize(w, 64<<10), rest: after, first: true}
	_, err = fmt.Fprintf(s.w, `%s"%s":[`, before, member)
	return s, err
}

func (s *rowStream) add(row any) error {
	if !s.first {
		if err := s.w.WriteByte(','); err != nil {
			return err
		}
	}
	s.first = false
	body, err := encode(row)
	if err != nil {
		return err
	}
	_, err = s.w.Write(bytes.TrimRight(body, "\n"))
	return err
}

func (s *rowStream) close() error {
	if _, err := s.w.Write(append([]byte("]"), s.rest...)); err != nil {
		return err
	}
	return s.w.Flush()
}
