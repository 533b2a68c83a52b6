package api

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"github.com/minio/minio-go/v7"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/people"
)

// While the bucket of originals is silent, or fails, whoever needs it is told to come again,
// and when; everybody else is served. When it answers again, so do we.
func TestABucketThatIsSilent(t *testing.T) {
	minio.DefaultRetryUnit, minio.DefaultRetryCap = time.Millisecond, 5*time.Millisecond
	backend := s3mem.New()
	if err := backend.CreateBucket("gull-lane"); err != nil {
		t.Fatal(err)
	}
	inner := gofakes3.New(backend).Server()
	var away atomic.Pointer[http.HandlerFunc]
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if h := away.Load(); h != nil {
			(*h)(w, r)
			return
		}
		inner.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	s := openShopWith(t, model.Options{Chance: chance(1), Originals: "s3://gull-lane/shop", Env: func(name string) string {
		return map[string]string{"AWS_ENDPOINT_URL_S3": server.URL, "AWS_ACCESS_KEY_ID": "shop", "AWS_SECRET_ACCESS_KEY": "not-a-secret"}[name]
	}})
	a := s.person("Tech A", people.Technician)
	tool, photo, next := a.registered(aTool("KD408B217")), aPhoto(t, 64, asPNG), aPhoto(t, 65, asPNG)
	a.upload(photo).want(http.StatusCreated)
	at := "/tools/" + tool.Number
	a.post(at+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "plate", SHA256: shaOf(photo)}}}).want(http.StatusOK)
	silent := http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) })
	failing := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusInternalServerError) })
	for what, h := range map[string]http.HandlerFunc{"silent": silent, "failing": failing} {
		away.Store(&h)
		for ask, r := range map[string]reply{"an upload": a.upload(next), "an original": a.get("/evidence/" + shaOf(photo))} {
			if p := r.refused(http.StatusServiceUnavailable); p.Kind != "unavailable" || r.header("Retry-After") == "" || p.Hint == "" {
				t.Errorf("%s, %s: %+v, Retry-After %q", what, ask, p, r.header("Retry-After"))
			}
		}
		a.post(at+"/take", wire.Take{}).want(http.StatusOK)
		a.post(at+"/return", wire.Return{}).want(http.StatusOK)
		s.nobody().send(http.MethodGet, "/readyz", nil).want(http.StatusOK)
	}
	away.Store(nil)
	a.upload(next).want(http.StatusCreated)
	if r := a.get("/evidence/" + shaOf(photo)).want(http.StatusOK); !bytes.Equal(r.Body.Bytes(), photo) {
		t.Errorf("the photo has %d bytes, want %d", r.Body.Len(), len(photo))
	}
}
