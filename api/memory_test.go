package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/jpeg"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"runtime/debug"
	"sync"
	"testing"
	"time"

	"pawl/api/client"
)

// heapPeak runs do, and gives by how many bytes the heap grew at most meanwhile.
// Garbage is collected early, so that what is held is what is seen.
func heapPeak(do func()) int64 {
	defer debug.SetGCPercent(debug.SetGCPercent(20))
	var now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&now)
	before, peak := int64(now.HeapAlloc), int64(0)
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		tick := time.NewTicker(5 * time.Millisecond)
		defer tick.Stop()
		for {
			runtime.ReadMemStats(&now)
			peak = max(peak, int64(now.HeapAlloc)-before)
			select {
			case <-stop:
				return
			case <-tick.C:
			}
		}
	}()
	do()
	close(stop)
	<-stopped
	return peak
}

// Twenty people, or two hundred at full size, send a photo over the network at once: of 8 MB and 12 megapixels,
// or of 4 and 3 where it must be quick. Held in memory, the files alone would be
// 160 or 80 MB and their pixels 360 or 90 MB; what is held is two decodings, and a few copies on
// their way to views.
func TestMemoryIsFlatUnderTwentyUploads(t *testing.T) {
	if testing.Short() {
		t.Skip("figures of memory mean nothing under the race detector, which CI runs with -short")
	}
	uploads := sized(20, 20, 200)
	size, most, pixels := 4<<20, int64(140)<<20, image.Rect(0, 0, 2000, 1500)
	if os.Getenv("PAWL_SIZE") != "" {
		size, most, pixels = 8<<20, 220<<20, image.Rect(0, 0, 4000, 3000)
	}
	s := openShop(t)
	h := New(s.Shop, Options{})
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h.ServeHTTP(w, r.WithContext(client.WithActor(r.Context(), atComputer)))
	}))
	defer server.Close()
	var photo bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewYCbCr(pixels, image.YCbCrSubsampleRatio420), nil); err != nil {
		t.Fatal(err)
	}
	rest := make([]byte, size-photo.Len()-1) // what follows the end of a JPEG is not looked at
	body := func(i int) io.Reader {
		return io.MultiReader(bytes.NewReader(photo.Bytes()), bytes.NewReader(rest), bytes.NewReader([]byte{byte(i)}))
	}
	send := func(i int) {
		sum := sha256.New()
		_, _ = io.Copy(sum, body(i))
		r, err := http.NewRequest(http.MethodPut, server.URL+Prefix+"/evidence/"+hex.EncodeToString(sum.Sum(nil)), body(i))
		if err != nil {
			t.Error(err)
			return
		}
		r.ContentLength = int64(size)
		r.Header.Set("Content-Type", "image/jpeg")
		answer, err := server.Client().Do(r)
		if err != nil {
			t.Error(err)
			return
		}
		defer answer.Body.Close()
		if said, _ := io.ReadAll(answer.Body); answer.StatusCode != http.StatusCreated {
			t.Errorf("upload %d: %d %s", i, answer.StatusCode, said)
		}
	}
	grown := heapPeak(func() {
		var all sync.WaitGroup
		for i := range uploads {
			all.Go(func() { send(i) })
		}
		all.Wait()
	})
	t.Logf("the heap grew by %d MB under %d uploads of %d MB", grown>>20, uploads, size>>20)
	if grown > most {
		t.Errorf("the heap grew by %d MB; the most is %d", grown>>20, most>>20)
	}
}
