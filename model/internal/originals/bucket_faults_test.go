package originals

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/s3test"
)

// cutAfter ends the connection of every put of an original after so many bytes of it.
func cutAfter(t *testing.T, server *s3test.Server, bytes int64, times int32) *atomic.Int32 {
	var cuts atomic.Int32
	server.Between(func(w http.ResponseWriter, r *http.Request) bool {
		if r.Method != http.MethodPut || !isOriginal(r) || cuts.Load() >= times {
			return false
		}
		cuts.Add(1)
		io.CopyN(io.Discard, r.Body, bytes)
		hangUp(t, w)
		return true
	})
	return &cuts
}

func isOriginal(r *http.Request) bool {
	parts := strings.Split(r.URL.Path, "/")
	return len(parts) > 2 && isHex(parts[len(parts)-1], 62)
}

func hangUp(t *testing.T, w http.ResponseWriter) {
	conn, _, err := w.(http.Hijacker).Hijack()
	if err != nil {
		t.Error(err)
		return
	}
	conn.Close()
}

// A put that is cut once is done by the library's next try; one that is cut each time is
// Unavailable, and nothing of it is there.
func TestAPutThatIsCut(t *testing.T) {
	data := strings.Repeat("x", 3*chunk)
	sha := hashOf([]byte(data))
	for _, at := range []int64{0, 1, 2 * chunk, int64(len(data))} {
		b, server := newBucket(t)
		cuts := cutAfter(t, server, at, 1)
		if _, created, err := b.Put(t.Context(), sha, strings.NewReader(data), noLimit); err != nil || !created || cuts.Load() != 1 {
			t.Errorf("cut once after %d bytes: %v, %v, %d cuts", at, created, err, cuts.Load())
		}
		if err := b.Check(sha); err != nil {
			t.Errorf("cut once after %d bytes: %v", at, err)
		}
	}
	b, server := newBucket(t)
	cuts := cutAfter(t, server, chunk, 1000)
	_, created, err := b.Put(t.Context(), sha, strings.NewReader(data), noLimit)
	if !fault.Is(err, fault.Unavailable) || created || fault.Of(err).Hint == "" || cuts.Load() != tries {
		t.Errorf("cut each time: %v, %v, %d cuts", created, err, cuts.Load())
	}
	if got := server.Keys(t); len(got) != 1 {
		t.Errorf("the bucket holds %q", got)
	}
	b.wantEmpty(t)
	server.Between(nil)
	if _, created, err := b.Put(t.Context(), sha, strings.NewReader(data), noLimit); err != nil || !created {
		t.Errorf("back again: %v, %v", created, err)
	}
}

// The server keeps it, and its answer is lost: the next try meets what is there.
func TestAPutWhoseAnswerIsLost(t *testing.T) {
	b, server := newBucket(t)
	data := strings.Repeat("x", chunk)
	sha := hashOf([]byte(data))
	lost := false
	server.Between(func(w http.ResponseWriter, r *http.Request) bool {
		if lost || r.Method != http.MethodPut || !isOriginal(r) {
			return false
		}
		lost = true
		server.Swap(t, b.key(sha), []byte(data))
		io.Copy(io.Discard, r.Body)
		hangUp(t, w)
		return true
	})
	size, _, err := b.Put(t.Context(), sha, strings.NewReader(data), noLimit)
	if err != nil || size != int64(len(data)) || !lost {
		t.Errorf("%d, %v, lost %v", size, err, lost)
	}
	if err := b.Check(sha); err != nil {
		t.Error(err)
	}
}

// A server that says it kept it, and did not, or not all of it, is not believed.
func TestAPutThatWasNotKept(t *testing.T) {
	data := strings.Repeat("x", chunk)
	sha := hashOf([]byte(data))
	for what, c := range map[string]struct {
		keeps string
		want  fault.Kind
	}{"nothing": {"", fault.NotFound}, "half of it": {data[:100], fault.Conflict}} {
		b, server := newBucket(t)
		server.Between(func(w http.ResponseWriter, r *http.Request) bool {
			if r.Method != http.MethodPut || !isOriginal(r) {
				return false
			}
			io.Copy(io.Discard, r.Body)
			if c.keeps != "" {
				server.Swap(t, b.key(sha), []byte(c.keeps))
			}
			w.WriteHeader(http.StatusOK)
			return true
		})
		if _, created, err := b.Put(t.Context(), sha, strings.NewReader(data), noLimit); !fault.Is(err, c.want) || created {
			t.Errorf("%s: %v, %v", what, created, err)
		}
	}
}

// Some answers are tried again, and some are not.
func TestAnswersOfABucket(t *testing.T) {
	data := "plate"
	sha := hashOf([]byte(data))
	for _, c := range []struct {
		status int
		code   string
		asked  int32
		says   string
	}{
		{500, "InternalError", tries, "does not answer"},
		{503, "SlowDown", tries, "does not answer"},
		{403, "AccessDenied", 1, "does not let us in"},
		{403, "SignatureDoesNotMatch", 1, "does not let us in"},
		{403, "RequestTimeTooSkewed", 1, "clock"},
		{409, "ConditionalRequestConflict", tries, "does not answer"},
	} {
		b, server := newBucket(t)
		putInto(t, b, "another")
		var asked atomic.Int32
		server.Between(func(w http.ResponseWriter, r *http.Request) bool {
			if r.Method != http.MethodPut {
				return false
			}
			asked.Add(1)
			io.Copy(io.Discard, r.Body)
			w.WriteHeader(c.status)
			io.WriteString(w, "<Error><Code>"+c.code+"</Code><Message>no</Message></Error>")
			return true
		})
		_, created, err := b.Put(t.Context(), sha, strings.NewReader(data), noLimit)
		if !fault.Is(err, fault.Unavailable) || created || !strings.Contains(err.Error(), c.says) || fault.Of(err).Hint == "" || asked.Load() != c.asked {
			t.Errorf("%d %s: %v, %v, asked %d times; want %q after %d", c.status, c.code, created, err, asked.Load(), c.says, c.asked)
		}
		b.wantEmpty(t)
		asked.Store(0)
	}
}

// A server that is silent is given up, and waits hold nobody for ever.
func TestASilentBucket(t *testing.T) {
	server := s3test.New(t)
	quiet := make(chan struct{})
	t.Cleanup(func() { close(quiet) })
	b := openBucket(t, server, "pawl/0001", func(c *BucketConfig) { c.stall = 50 * time.Millisecond })
	sha := putInto(t, b, strings.Repeat("x", 2*chunk))
	server.Between(func(w http.ResponseWriter, r *http.Request) bool {
		if r.Method == http.MethodGet {
			w.Header().Set("Content-Length", "131072")
			w.Write(make([]byte, 10))
			w.(http.Flusher).Flush()
		}
		<-quiet
		return true
	})
	if _, _, err := b.Put(t.Context(), hashOf([]byte("y")), strings.NewReader("y"), noLimit); !fault.Is(err, fault.Unavailable) {
		t.Errorf("put: %v", err)
	}
	if err := b.Remove(sha); !fault.Is(err, fault.Unavailable) {
		t.Errorf("remove: %v", err)
	}
	o := &object{b: b, key: b.key(sha), size: 2 * chunk}
	if _, err := io.Copy(io.Discard, o); !fault.Is(err, fault.Unavailable) {
		t.Errorf("read: %v", err)
	}
}

// A read that is cut goes on from where it was.
func TestAReadThatIsCut(t *testing.T) {
	b, server := newBucket(t)
	sha := putInto(t, b, strings.Repeat("serial plate ", 50000))
	cuts := 0
	server.Between(func(w http.ResponseWriter, r *http.Request) bool {
		if r.Method != http.MethodGet || !isOriginal(r) || cuts == 3 {
			return false
		}
		cuts++
		whole := server.Bytes(t, b.key(sha))
		from := 0
		if span := r.Header.Get("Range"); span != "" {
			for _, digit := range strings.TrimSuffix(strings.TrimPrefix(span, "bytes="), "-") {
				from = from*10 + int(digit-'0')
			}
			w.Header().Set("Content-Range", "bytes "+strings.TrimPrefix(span, "bytes=")+"649999/650000")
		}
		w.Header().Set("Last-Modified", time.Now().UTC().Format(http.TimeFormat))
		w.Header().Set("Content-Length", strconv.Itoa(len(whole)-from))
		if from > 0 {
			w.WriteHeader(http.StatusPartialContent)
		}
		w.Write(whole[from : from+1000])
		w.(http.Flusher).Flush()
		hangUp(t, w)
		return true
	})
	if err := b.Check(sha); err != nil || cuts != 3 {
		t.Errorf("%v after %d cuts", err, cuts)
	}
}

// A caller who goes away ends the put.
func TestACancelEndsAPut(t *testing.T) {
	b, server := newBucket(t)
	putInto(t, b, "another")
	ctx, cancel := context.WithCancel(t.Context())
	server.Between(func(_ http.ResponseWriter, r *http.Request) bool {
		if r.Method == http.MethodPut {
			io.Copy(io.Discard, r.Body) // the server sees that the caller is gone only behind the body
			cancel()
			<-r.Context().Done()
		}
		return r.Method == http.MethodPut
	})
	if _, _, err := b.Put(ctx, hashOf([]byte("y")), strings.NewReader("y"), noLimit); !fault.Is(err, fault.Unavailable) {
		t.Errorf("%v", err)
	}
	b.wantEmpty(t)
}

// What goes through stays out of memory: all that is allocated, here and in the server's
// own discarding, stays far under the size of what is put.
func TestMemoryOfABucketStaysFlat(t *testing.T) {
	const size, bar = 32 << 20, 8 << 20
	sum := sha256.New()
	if _, err := io.CopyN(sum, zeros{}, size); err != nil {
		t.Fatal(err)
	}
	sha := hex.EncodeToString(sum.Sum(nil))
	b, server := newBucket(t)
	putInto(t, b, "another")
	var got atomic.Int64
	server.Between(func(w http.ResponseWriter, r *http.Request) bool {
		if !isOriginal(r) {
			return false
		}
		w.Header().Set("Last-Modified", time.Now().UTC().Format(http.TimeFormat))
		switch {
		case r.Method == http.MethodPut:
			n, _ := io.Copy(io.Discard, r.Body)
			got.Store(n)
		case got.Load() == 0:
			w.WriteHeader(http.StatusNotFound)
		case r.Method == http.MethodHead:
			w.Header().Set("Content-Length", strconv.Itoa(size))
		default:
			w.Header().Set("Content-Length", strconv.Itoa(size))
			io.CopyN(w, zeros{}, size)
		}
		return true
	})
	for _, step := range []struct {
		what string
		do   func() error
	}{
		{"put", func() error {
			n, created, err := b.Put(t.Context(), sha, io.LimitReader(zeros{}, size), size)
			if n != size || !created || got.Load() != size {
				t.Errorf("put %d, %v; the server had %d", n, created, got.Load())
			}
			return err
		}},
		{"check", func() error { return b.Check(sha) }},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		err := step.do()
		runtime.ReadMemStats(&after)
		if used := after.TotalAlloc - before.TotalAlloc; err != nil || used > bar {
			t.Errorf("%s of %d bytes: %v, %d allocated, want under %d", step.what, size, err, used, bar)
		}
	}
}
