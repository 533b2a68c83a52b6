package bag

import (
	"hash"
	"io"
)

// Plan is a writer that writes nothing: it says what fingerprint and size a bag would
// have. Of large files whose hash is known it needs no bytes; see Known.
type Plan struct {
	*Writer
	counted *counter
}

type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

// NewPlan begins one.
func NewPlan(info Info) (*Plan, error) {
	c := &counter{}
	w, err := NewWriter(c, info)
	return &Plan{Writer: w, counted: c}, err
}

// Size is the bytes of the ZIP, once it is closed.
func (p *Plan) Size() int64 { return p.counted.n }

// Known counts a file that would be added packed with those bytes.
func (p *Plan) Known(path string, sum []byte, size int64) error {
	if _, err := p.Create(path, true); err != nil {
		return err
	}
	p.open.size, p.open.hash = size, known{p.open.hash, sum}
	// Packed bytes stand in a ZIP as they are.
	_, err := io.CopyN(p.open.to, zeros{}, size)
	return err
}

// known gives a hash that was worked out before.
type known struct {
	hash.Hash
	sum []byte
}

func (k known) Sum(b []byte) []byte { return append(b, k.sum...) }

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }
