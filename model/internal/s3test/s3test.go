// Package s3test gives tests a bucket on an S3-compatible server of its own, in the
// process of the test; nothing but tests imports it. The server is gofakes3, which is
// not of this house and honours If-None-Match. It checks no signatures, nor that the
// bytes of a put are those that were signed for.
package s3test

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"github.com/minio/minio-go/v7"
)

// Tests wait a moment between tries, not a second.
func init() { minio.DefaultRetryUnit, minio.DefaultRetryCap = time.Millisecond, 5*time.Millisecond }

// Bucket is the name of the bucket, and Location how Pawl names it.
const (
	Bucket   = "gull-lane"
	Location = "s3://" + Bucket + "/shop"
)

// Server is a server with one bucket, and what it was asked.
type Server struct {
	*httptest.Server
	backend *s3mem.Backend

	mu      sync.Mutex
	between func(w http.ResponseWriter, r *http.Request) (done bool)
	asked   []string
}

// New starts a server, which ends with the test.
func New(t testing.TB) *Server {
	t.Helper()
	s := &Server{backend: s3mem.New()}
	if err := s.backend.CreateBucket(Bucket); err != nil {
		t.Fatal(err)
	}
	inner := gofakes3.New(s.backend).Server()
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		s.asked = append(s.asked, r.Method+" "+r.URL.Path)
		between := s.between
		s.mu.Unlock()
		if between == nil || !between(w, r) {
			inner.ServeHTTP(w, r)
		}
	}))
	t.Cleanup(func() {
		s.Server.CloseClientConnections()
		s.Server.Close()
	})
	return s
}

// Between has fn see each request first; where it says so, the request is done with.
func (s *Server) Between(fn func(w http.ResponseWriter, r *http.Request) (done bool)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.between = fn
}

// Forgetful makes it the server that must be found out: it puts over what is there.
func (s *Server) Forgetful() {
	s.Between(func(_ http.ResponseWriter, r *http.Request) bool {
		r.Header.Del("If-None-Match")
		return false
	})
}

// Asked gives what was asked, method and path, in its order.
func (s *Server) Asked() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.asked...)
}

// Env is the environment that leads to the server.
func (s *Server) Env(name string) string {
	return map[string]string{"AWS_ENDPOINT_URL_S3": s.URL, "AWS_ACCESS_KEY_ID": "shop", "AWS_SECRET_ACCESS_KEY": "not-a-secret"}[name]
}

// Swap puts other bytes in the place of an object, or where none is, as an intruder would.
func (s *Server) Swap(t testing.TB, key string, data []byte) {
	t.Helper()
	_, err := s.backend.PutObject(Bucket, key, map[string]string{"Last-Modified": gofakes3.DefaultTimeSource().Now().UTC().Format(http.TimeFormat)}, bytes.NewReader(data), int64(len(data)), nil)
	if err != nil {
		t.Fatal(err)
	}
}

// Drop removes an object.
func (s *Server) Drop(t testing.TB, key string) {
	t.Helper()
	if _, err := s.backend.DeleteObject(Bucket, key); err != nil {
		t.Fatal(err)
	}
}

// Keys lists the objects.
func (s *Server) Keys(t testing.TB) (out []string) {
	t.Helper()
	list, err := s.backend.ListBucket(Bucket, nil, gofakes3.ListBucketPage{})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range list.Contents {
		out = append(out, o.Key)
	}
	return out
}

// Bytes gives what is in an object.
func (s *Server) Bytes(t testing.TB, key string) []byte {
	t.Helper()
	o, err := s.backend.GetObject(Bucket, key, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer o.Contents.Close()
	raw, err := io.ReadAll(o.Contents)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}
