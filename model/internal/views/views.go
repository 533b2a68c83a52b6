// Package views makes what is shown of an original: an upright copy, smaller and
// without metadata, and what can be told from its pixels.
//
// A view is such a copy as a JPEG. There are two sizes, Small and Large. Views
// are derived: the folder that holds them may be deleted at any time, and each is
// made again when somebody asks. Every decoding in this package passes one gate,
// which lets two through at once, and a large picture alone, so that memory stays
// flat whatever comes in. A converter is a program from outside that turns a HEIC
// into a JPEG; without one, a HEIC has no view.
package views

import (
	"bytes"
	"context"
	"errors"
	"image"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/codes"
)

// Size is a size of view.
type Size string

// The sizes, and their longest sides in pixels. A picture is never enlarged.
const (
	Small Size = "small"
	Large Size = "large"

	smallSide = 320
	largeSide = 1600
)

// ParseSize reads the name of a size.
func ParseSize(s string) (Size, error) {
	switch size := Size(s); size {
	case Small, Large:
		return size, nil
	}
	return "", fault.At("#/view", "%q is not a size of view", s).WithHint("use small or large")
}

// Config says where views are kept and what they are made from.
type Config struct {
	Dir       string // of the views; made when one is written
	Originals func(sha256 string) (io.ReadSeekCloser, int64, error)
	Converter string // command for HEIC, with {in} and {out}; empty: none
	Log       *slog.Logger
}

// Limits on work: a decoding takes at most so long; so many views wait to be
// made, and so many copies wait with them in memory. What does not fit is made
// when somebody asks for it.
const (
	decodeTime = 15 * time.Second
	mostQueued = 32
	mostCopies = 4
	workers    = 2
)

// Maker makes views. It is safe for use by many goroutines.
type Maker struct {
	Config
	converter []string
	limit     time.Duration // of one decoding
	gate      gate
	queue     chan job
	copies    chan struct{} // a token for each copy that waits
	done      sync.WaitGroup

	mu     sync.Mutex
	closed bool
	judged map[string]float64 // sharpness by original
	broken map[string]bool    // originals that cannot be decoded
}

// job is an original of which both views are wanted.
type job struct {
	sha  string
	copy *image.RGBA // upright, of at most largeSide; nil: decode it again
}

// New starts the two workers; Close ends them. A converter that is not a command
// with {in} and {out} is Invalid.
func New(c Config) (*Maker, error) {
	m := &Maker{Config: c, limit: decodeTime, gate: newGate(), queue: make(chan job, mostQueued), copies: make(chan struct{}, mostCopies), judged: map[string]float64{}}
	var err error
	if m.converter, err = parseConverter(c.Converter); err != nil {
		return nil, err
	}
	m.broken = m.markedBroken()
	for range workers {
		m.done.Add(1)
		go m.work()
	}
	return m, nil
}

// Close waits until the views that are queued are made.
func (m *Maker) Close() {
	m.mu.Lock()
	if !m.closed {
		m.closed = true
		close(m.queue)
	}
	m.mu.Unlock()
	m.done.Wait()
}

func (m *Maker) work() {
	defer m.done.Done()
	for j := range m.queue {
		if err := m.make(context.Background(), j); err != nil && !fault.Is(err, fault.NotFound) {
			m.Log.Warn("a view could not be made", "sha256", j.sha, "error", err)
		}
		if j.copy != nil {
			<-m.copies
		}
	}
}

// enqueue asks for views after the answer. It never waits: where too much is
// asked already, the view is made on demand.
func (m *Maker) enqueue(j job) {
	if j.copy != nil {
		select {
		case m.copies <- struct{}{}:
		default:
			j.copy = nil
		}
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	queued := false
	if !m.closed {
		select {
		case m.queue <- j:
			queued = true
		default:
		}
	}
	if !queued && j.copy != nil {
		<-m.copies
	}
}

// Open gives the bytes of a view, made where there is none. The fault is NotFound
// for an original that has no view; its hint says why.
func (m *Maker) Open(ctx context.Context, sha string, size Size) ([]byte, error) {
	b, err := os.ReadFile(m.path(sha, size))
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return b, diskFault(err)
	}
	if err := m.make(ctx, job{sha: sha}); err != nil {
		return nil, err
	}
	b, err = os.ReadFile(m.path(sha, size))
	return b, diskFault(err)
}

// Forget removes the views of an original that is no more.
func (m *Maker) Forget(sha string) {
	for _, size := range []Size{Small, Large} {
		if err := os.Remove(m.path(sha, size)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			m.Log.Warn("a view could not be removed", "sha256", sha, "error", err)
		}
	}
	m.mend(sha)
}

// make writes both views of an original.
func (m *Maker) make(ctx context.Context, j job) error {
	copied := j.copy
	if copied == nil {
		var err error
		if copied, _, err = m.decode(ctx, j.sha, largeSide); err != nil {
			return err
		}
	}
	for _, v := range []struct {
		size Size
		side int
	}{{Large, largeSide}, {Small, smallSide}} {
		if err := m.write(j.sha, v.size, shrink(copied, v.side)); err != nil {
			return err
		}
	}
	return nil
}

// write puts a view in its place, whole or not at all.
func (m *Maker) write(sha string, size Size, img *image.RGBA) error {
	path := m.path(sha, size)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return diskFault(err)
	}
	var b bytes.Buffer
	if err := encode(&b, img); err != nil {
		return err
	}
	temp, err := os.CreateTemp(filepath.Dir(path), "new-*")
	if err != nil {
		return diskFault(err)
	}
	_, err = temp.Write(b.Bytes())
	if err = errors.Join(err, temp.Close()); err == nil {
		err = os.Rename(temp.Name(), path)
	}
	if err != nil {
		os.Remove(temp.Name())
	}
	return diskFault(err)
}

// path is that of a view. The hash was checked when its original was opened, or
// comes from a record.
func (m *Maker) path(sha string, size Size) string {
	if len(sha) != 64 {
		return filepath.Join(m.Dir, "none")
	}
	return filepath.Join(m.Dir, sha[:2], sha[2:]+"-"+string(size)+".jpg")
}

func diskFault(err error) error {
	if err == nil {
		return nil
	}
	return fault.New(fault.Unavailable, "the view cannot be kept or read").WithHint("look at the disk: space, rights, health").WithCause(err)
}

// Judge says how well an original would show a serial plate, and has its views
// made after the answer. Known is false for one that cannot be decoded here; where it
// could be, were it whole, it is Broken.
func (m *Maker) Judge(ctx context.Context, sha string, media evidence.Media) (q evidence.Quality, known bool) {
	q.ShorterSide = min(media.Width, media.Height)
	m.mu.Lock()
	q.Sharpness, known = m.judged[sha]
	m.mu.Unlock()
	if known {
		return q, true
	}
	if media.HEIC() && m.Converts() {
		m.enqueue(job{sha: sha})
	}
	if !media.Views {
		return q, false
	}
	img, _, err := m.decode(ctx, sha, largeSide)
	if err != nil {
		m.Log.Warn("a photo could not be judged", "sha256", sha, "error", err)
		q.Broken = m.Broken(sha)
		return q, false
	}
	q.Sharpness = evidence.Sharpness(gray(shrink(img, evidence.JudgedSide)))
	m.remember(sha, q.Sharpness)
	m.enqueue(job{sha: sha, copy: img})
	return q, true
}

// Converts says whether a HEIC has views here.
func (m *Maker) Converts() bool { return m.converter != nil }

// mostJudged bounds what is remembered, about 100 bytes each.
const mostJudged = 10_000

func (m *Maker) remember(sha string, sharpness float64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.judged) >= mostJudged {
		clear(m.judged)
	}
	m.judged[sha] = sharpness
}

// Codes reads the QR codes in an original; see codes.Read.
func (m *Maker) Codes(ctx context.Context, sha string) (texts []string, unreadable bool, err error) {
	f, size, err := m.Originals(sha)
	if err != nil {
		return nil, false, err
	}
	defer f.Close()
	return m.CodesIn(ctx, f, size)
}

// CodesIn reads the QR codes in a photo of size bytes that is kept nowhere.
func (m *Maker) CodesIn(ctx context.Context, f io.ReadSeeker, size int64) (texts []string, unreadable bool, err error) {
	img, _, err := m.decoded(ctx, f, size, codes.MaxSide)
	if err != nil {
		return nil, false, err
	}
	leave, err := m.gate.enter(ctx, 0)
	if err != nil {
		return nil, false, err
	}
	defer leave()
	texts, unreadable = codes.Read(img)
	return texts, unreadable, nil
}
