package evidence

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"io"

	"pawl/model/fault"
)

// Markers of JPEG (ITU-T T.81 table B.1).
const (
	markSOI  = 0xd8
	markEOI  = 0xd9
	markSOS  = 0xda
	markTEM  = 0x01
	markRST0 = 0xd0
	markRST7 = 0xd7
	markAPP0 = 0xe0
	markAPPF = 0xef
	markCOM  = 0xfe
)

// WithoutMetadata copies a JPEG from r to w and leaves out what it says beside the
// picture: place, time, device, comments, and what follows its end. The picture itself is
// copied as it is, byte for byte, with how it is turned and with its colors. What is no
// JPEG, or is cut short, is Invalid.
func WithoutMetadata(w io.Writer, r io.Reader) error {
	s := stripping{r: bufio.NewReaderSize(r, 64<<10), w: bufio.NewWriterSize(w, 64<<10)}
	if err := s.run(); err != nil {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return fault.New(fault.Invalid, "the JPEG is cut short: no copy without its place can be made")
		}
		return err
	}
	return s.w.Flush()
}

type stripping struct {
	r *bufio.Reader
	w *bufio.Writer
}

func (s *stripping) run() error {
	head := make([]byte, 2)
	if _, err := io.ReadFull(s.r, head); err != nil {
		return err
	}
	if head[0] != 0xff || head[1] != markSOI {
		return fault.New(fault.Invalid, "this is no JPEG")
	}
	if _, err := s.w.Write(head); err != nil {
		return err
	}
	begun := false
	for {
		mark, err := s.marker(begun)
		if err != nil {
			return err
		}
		begun = false
		if mark == markEOI {
			_, err := s.w.Write([]byte{0xff, markEOI})
			return err // what follows is another picture, or none
		}
		if err := s.segment(mark); err != nil {
			return err
		}
		if mark == markSOS {
			if err := s.scan(); err != nil {
				return err
			}
			begun = true
		}
	}
}

// marker reads the next marker, with fill bytes before it; begun says that its first byte
// was read.
func (s *stripping) marker(begun bool) (byte, error) {
	b, err := byte(0xff), error(nil)
	if !begun {
		b, err = s.r.ReadByte()
	}
	if err != nil {
		return 0, err
	}
	if b != 0xff {
		return 0, fault.New(fault.Invalid, "the JPEG is damaged: no marker where one must be")
	}
	for b == 0xff {
		if b, err = s.r.ReadByte(); err != nil {
			return 0, err
		}
	}
	return b, nil
}

// segment copies one segment, or passes over it.
func (s *stripping) segment(mark byte) error {
	if mark == markTEM || mark >= markRST0 && mark <= markRST7 {
		_, err := s.w.Write([]byte{0xff, mark})
		return err
	}
	var size [2]byte
	if _, err := io.ReadFull(s.r, size[:]); err != nil {
		return err
	}
	n := int(binary.BigEndian.Uint16(size[:]))
	if n < 2 {
		return fault.New(fault.Invalid, "the JPEG is damaged: a segment of %d bytes", n)
	}
	body := make([]byte, n-2)
	if _, err := io.ReadFull(s.r, body); err != nil {
		return err
	}
	if mark == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")) {
		if turn := orientation(body[6:]); turn > 1 {
			_, err := s.w.Write(onlyTurned(turn))
			return err
		}
		return nil
	}
	if !keptSegment(mark, body) {
		return nil
	}
	_, err := s.w.Write(append([]byte{0xff, mark, size[0], size[1]}, body...))
	return err
}

// keptSegment says whether a segment belongs to the picture. Of those of applications
// only what its colors need: JFIF, a color profile, and how its channels are coded.
func keptSegment(mark byte, body []byte) bool {
	switch {
	case mark == markCOM:
		return false
	case mark == markAPP0:
		return bytes.HasPrefix(body, []byte("JFIF\x00"))
	case mark == 0xe2:
		return bytes.HasPrefix(body, []byte("ICC_PROFILE\x00"))
	case mark == 0xee:
		return bytes.HasPrefix(body, []byte("Adobe"))
	case mark > markAPP0 && mark <= markAPPF:
		return false
	}
	return true
}

// scan copies coded data up to the next marker, of which it reads the first byte.
func (s *stripping) scan() error {
	for {
		part, err := s.r.ReadSlice(0xff)
		if errors.Is(err, bufio.ErrBufferFull) {
			if _, err := s.w.Write(part); err != nil {
				return err
			}
			continue
		}
		if err != nil {
			return err
		}
		if _, err := s.w.Write(part[:len(part)-1]); err != nil {
			return err
		}
		next, err := s.r.Peek(1)
		if err != nil {
			return err
		}
		if next[0] != 0 && (next[0] < markRST0 || next[0] > markRST7) {
			return nil
		}
		if _, err := s.w.Write([]byte{0xff, next[0]}); err != nil {
			return err
		}
		if _, err := s.r.Discard(1); err != nil {
			return err
		}
	}
}

// orientation reads tag 0x0112 of the first folder of an Exif block; 0 where it is not
// there or cannot be read.
func orientation(tiff []byte) byte {
	if len(tiff) < 8 {
		return 0
	}
	var order binary.ByteOrder = binary.BigEndian
	if tiff[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(tiff[4:]))
	if at+2 > int64(len(tiff)) {
		return 0
	}
	for i := range int64(order.Uint16(tiff[at:])) {
		e := at + 2 + 12*i
		if e+12 > int64(len(tiff)) {
			return 0
		}
		if order.Uint16(tiff[e:]) == 0x0112 {
			if turn := order.Uint16(tiff[e+8:]); turn <= 8 {
				return byte(turn)
			}
		}
	}
	return 0
}

// onlyTurned is a segment of Exif that says how the picture is turned and nothing else.
func onlyTurned(turn byte) []byte {
	return []byte{0xff, 0xe1, 0, 34, 'E', 'x', 'i', 'f', 0, 0, 'M', 'M', 0, 42, 0, 0, 0, 8,
		0, 1, 0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, turn, 0, 0, 0, 0, 0, 0}
}
