package originals

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/iotest"

	"pawl/model/fault"
)

func TestHowTheBytesArriveDoesNotMatter(t *testing.T) {
	data := bytes.Repeat([]byte("0123456789abcdef"), chunk/16)
	data = append(data, "and a rest"...)
	for what, r := range map[string]io.Reader{
		"by halves":           iotest.HalfReader(bytes.NewReader(data)),
		"byte by byte":        iotest.OneByteReader(bytes.NewReader(data)),
		"the end with data":   iotest.DataErrReader(bytes.NewReader(data)),
		"with empty reads":    &stutter{r: bytes.NewReader(data)},
		"all at once":         bytes.NewReader(data),
		"in two parts":        io.MultiReader(bytes.NewReader(data[:7]), bytes.NewReader(data[7:])),
		"with empty part too": io.MultiReader(bytes.NewReader(nil), bytes.NewReader(data)),
	} {
		f := newFolder(t)
		sha := hashOf(data)
		size, created, err := f.Put(t.Context(), sha, r, int64(len(data)))
		if err != nil || !created || size != int64(len(data)) {
			t.Errorf("%s: %d, %v, %v", what, size, created, err)
		}
		if err := f.Check(sha); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// stutter gives nothing at every second read, as io.Reader allows.
type stutter struct {
	r     io.Reader
	quiet bool
}

func (s *stutter) Read(p []byte) (int, error) {
	if s.quiet = !s.quiet; s.quiet {
		return 0, nil
	}
	return s.r.Read(p)
}

// silent never gives anything, and never ends.
type silent struct{}

func (silent) Read([]byte) (int, error) { return 0, nil }

// Both doors of Put, the first and the repeated one, refuse alike and leave the
// folder as it was.
func TestAFailedPutKeepsNothingNew(t *testing.T) {
	data := strings.Repeat("x", 2*chunk+5)
	sha := hashOf([]byte(data))
	cut := data[:chunk+1]
	broken, own := errors.New("line is dead"), fault.New(fault.TooLarge, "said by the reader")
	for _, c := range []struct {
		what  string
		r     func() io.Reader
		limit int64
		want  fault.Kind
		says  []string
	}{
		{"wrong hash", func() io.Reader { return strings.NewReader(cut) }, noLimit, fault.Invalid, []string{sha, hashOf([]byte(cut))}},
		{"nothing", func() io.Reader { return strings.NewReader("") }, noLimit, fault.Invalid, []string{sha, hashOf(nil)}},
		{"one byte too many", func() io.Reader { return strings.NewReader(data) }, int64(len(data)) - 1, fault.TooLarge, []string{"131076 bytes"}},
		{"without end", func() io.Reader { return zeros{} }, 10 * chunk, fault.TooLarge, []string{"655360 bytes"}},
		{"limit of nothing", func() io.Reader { return strings.NewReader("x") }, 0, fault.TooLarge, nil},
		{"limit below zero", func() io.Reader { return strings.NewReader("") }, -1, fault.Invalid, []string{"-1"}},
		{"broken line", func() io.Reader {
			return io.MultiReader(strings.NewReader(cut), iotest.ErrReader(broken))
		}, noLimit, fault.Unavailable, []string{"65537 bytes"}},
		{"cut body", func() io.Reader {
			return io.MultiReader(strings.NewReader(cut), iotest.ErrReader(io.ErrUnexpectedEOF))
		}, noLimit, fault.Unavailable, nil},
		{"a fault of the reader's", func() io.Reader { return iotest.ErrReader(fmt.Errorf("body: %w", own)) }, noLimit, fault.TooLarge, []string{"said by the reader"}},
		{"silence", func() io.Reader { return silent{} }, noLimit, fault.Unavailable, nil},
	} {
		for _, present := range []bool{false, true} {
			f := newFolder(t)
			want := 0
			if present {
				put(t, f, data)
				want = 1
			}
			size, created, err := f.Put(t.Context(), sha, c.r(), c.limit)
			if size != 0 || created || !fault.Is(err, c.want) {
				t.Errorf("%s, present %v: %d, %v, %v; want %s", c.what, present, size, created, err, c.want)
				continue
			}
			for _, words := range c.says {
				if !strings.Contains(err.Error(), words) {
					t.Errorf("%s: %v does not say %q", c.what, err, words)
				}
			}
			if got := files(t, f); len(got) != want {
				t.Errorf("%s, present %v: the folder holds %q", c.what, present, got)
			}
		}
	}
}

// zeros never ends.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

func TestACancelIsSeenBetweenChunks(t *testing.T) {
	f := newFolder(t)
	ctx, cancel := context.WithCancel(t.Context())
	reads := 0
	r := readFunc(func(p []byte) (int, error) {
		if reads++; reads == 3 {
			cancel()
		}
		return zeros{}.Read(p)
	})
	_, _, err := f.Put(ctx, hashOf(nil), r, noLimit)
	if !fault.Is(err, fault.Unavailable) || !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want Unavailable because canceled", err)
	}
	if reads != 3 {
		t.Errorf("%d reads, want none after the cancel in the third", reads)
	}
	if got := files(t, f); len(got) != 0 {
		t.Errorf("the folder holds %q", got)
	}
}

type readFunc func([]byte) (int, error)

func (r readFunc) Read(p []byte) (int, error) { return r(p) }

func TestPuttingAgainChangesNothingAndReadsAll(t *testing.T) {
	f := newFolder(t)
	data := strings.Repeat("again ", 50000)
	sha := put(t, f, data)
	again := strings.NewReader(data)
	size, created, err := f.Put(t.Context(), sha, again, noLimit)
	if err != nil || created || size != int64(len(data)) || again.Len() != 0 {
		t.Errorf("%d, %v, %v; %d bytes unread", size, created, err, again.Len())
	}
	if got := files(t, f); len(got) != 1 {
		t.Errorf("the folder holds %q", got)
	}
}

func TestPuttingAgainFindsACutOriginal(t *testing.T) {
	f := newFolder(t)
	sha := put(t, f, "whole")
	damage(t, f, sha, []byte("who"))
	_, created, err := f.Put(t.Context(), sha, strings.NewReader("whole"), noLimit)
	if !fault.Is(err, fault.Conflict) || created || !strings.Contains(err.Error(), sha) {
		t.Errorf("%v, %v; want Conflict with the hash", created, err)
	}
}

func TestTwentyAtOnceMakeOneOriginal(t *testing.T) {
	const many = 20
	f := newFolder(t)
	data := strings.Repeat("shared receipt ", 20000)
	sha := hashOf([]byte(data))
	var start, done sync.WaitGroup
	created := make([]bool, many)
	errs := make([]error, many)
	start.Add(1)
	for i := range many {
		done.Go(func() {
			start.Wait()
			_, created[i], errs[i] = f.Put(t.Context(), sha, iotest.HalfReader(strings.NewReader(data)), noLimit)
		})
	}
	start.Done()
	done.Wait()
	makers := 0
	for i := range many {
		if errs[i] != nil {
			t.Error(errs[i])
		}
		if created[i] {
			makers++
		}
	}
	if makers != 1 {
		t.Errorf("%d were told that they created it, want 1", makers)
	}
	if got := files(t, f); len(got) != 1 {
		t.Errorf("the folder holds %q", got)
	}
	if err := f.Check(sha); err != nil {
		t.Error(err)
	}
}

func TestTwoFoldersOnOneDirectoryAgree(t *testing.T) {
	first := newFolder(t)
	second, err := Open(first.dir)
	if err != nil {
		t.Fatal(err)
	}
	sha := put(t, first, "plate")
	if _, created, err := second.Put(t.Context(), sha, strings.NewReader("plate"), noLimit); err != nil || created {
		t.Errorf("the second: %v, %v", created, err)
	}
	if err := second.Remove(sha); err != nil {
		t.Fatal(err)
	}
	if err := first.Check(sha); !fault.Is(err, fault.NotFound) {
		t.Errorf("the first still has it: %v", err)
	}
}

// All that is allocated, freed or not, stays under the bar; so the heap does too.
func TestMemoryStaysFlat(t *testing.T) {
	const size, bar = 26 << 20, 8 << 20
	sum := sha256.New()
	if _, err := io.CopyN(sum, zeros{}, size); err != nil {
		t.Fatal(err)
	}
	hash := hex.EncodeToString(sum.Sum(nil))
	f := newFolder(t)
	steps := []struct {
		what string
		do   func() error
		want fault.Kind
	}{
		{"put over the limit", func() error { return putZeros(t, f, hash, size, 25<<20) }, fault.TooLarge},
		{"put", func() error { return putZeros(t, f, hash, size, size) }, ""},
		{"put again", func() error { return putZeros(t, f, hash, size, size) }, ""},
		{"check", func() error { return f.Check(hash) }, ""},
	}
	for _, step := range steps {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		err := step.do()
		runtime.ReadMemStats(&after)
		if used := after.TotalAlloc - before.TotalAlloc; used > bar {
			t.Errorf("%s of 26 MiB: %d bytes allocated, want under %d", step.what, used, bar)
		}
		if (err == nil) != (step.want == "") || err != nil && !fault.Is(err, step.want) {
			t.Errorf("%s of 26 MiB: %v, want %q", step.what, err, step.want)
		}
	}
}

func putZeros(t *testing.T, f *Folder, hash string, size, limit int64) error {
	_, _, err := f.Put(t.Context(), hash, io.LimitReader(zeros{}, size), limit)
	return err
}
