package evidence

import (
	"errors"
	"io"

	"pawl/model/fault"
)

// headBytes is how much of the beginning is looked at to know a file.
const headBytes = 3072

// source is the file under inspection. A failure to read it is kept in err, so
// that it is not taken for a damaged file; reading past the end is not a failure.
type source struct {
	r    io.ReadSeeker
	size int64
	err  error
}

// newSource checks that r holds exactly size bytes.
func newSource(r io.ReadSeeker, size int64) (*source, error) {
	end, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, unreadable(err)
	}
	if end != size {
		return nil, fault.New(fault.Invalid, "the file was said to have %d bytes and has %d", size, end).
			WithHint("send it again")
	}
	return &source{r: r, size: size}, nil
}

func (s *source) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		s.err = err
	}
	return n, err
}

// at returns up to n bytes from offset, fewer where the file ends.
func (s *source) at(offset int64, n int) []byte {
	if offset < 0 || offset >= s.size {
		return nil
	}
	if !s.seek(offset) {
		return nil
	}
	buf := make([]byte, min(int64(n), s.size-offset))
	got, _ := io.ReadFull(s, buf)
	return buf[:got]
}

func (s *source) head() []byte { return s.at(0, headBytes) }

func (s *source) seek(offset int64) bool {
	if _, err := s.r.Seek(offset, io.SeekStart); err != nil {
		s.err = err
		return false
	}
	return true
}

func unreadable(cause error) error {
	return fault.New(fault.Unavailable, "the file could not be read").WithHint("send it again").WithCause(cause)
}

var errBudget = errors.New("more was read than metadata needs")

// Offsets in a hostile file can send a metadata reader round in circles. The
// budget ends that after a fixed amount of reading, so the answer is the same on
// every machine. Short reads keep the cost of each jump low: a 48-megapixel HEIC
// of 200 tiles needs about 600 jumps.
const (
	budgetBytes = 8 << 20
	budgetRead  = 512
)

// budgeted passes reads and seeks through until the budget is spent.
type budgeted struct {
	src  *source
	left int64
}

func (b *budgeted) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, errBudget
	}
	if len(p) > budgetRead {
		p = p[:budgetRead]
	}
	// A read at the end delivers nothing, and must cost all the same.
	b.left -= int64(len(p))
	return b.src.Read(p)
}

func (b *budgeted) Seek(offset int64, whence int) (int64, error) {
	return b.src.r.Seek(offset, whence)
}
