package page

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"

	"pawl/model/fault"
)

//go:embed static
var staticFiles embed.FS

// static is one file that a page loads: its bytes, plain and packed, under a
// name that changes with them, so a browser may keep it for good.
type static struct {
	mediaType   string
	hash        string
	raw, packed []byte
}

// statics are the files of static/: those of css/ are joined into one style
// sheet, in the order of their names; the rest stand for themselves.
var statics = sync.OnceValue(func() map[string]*static {
	all := map[string]*static{}
	var style bytes.Buffer
	err := fs.WalkDir(staticFiles, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := fs.ReadFile(staticFiles, name)
		if err != nil {
			return err
		}
		if path.Dir(name) == "static/css" {
			style.Write(raw)
			return nil
		}
		all[path.Base(name)] = newStatic(name, raw)
		return nil
	})
	if err != nil {
		panic("page: " + err.Error())
	}
	all["pawl.css"] = newStatic("pawl.css", style.Bytes())
	return all
})

func newStatic(name string, raw []byte) *static {
	sum := sha256.Sum256(raw)
	s := &static{mediaType: mediaTypes[path.Ext(name)], hash: hex.EncodeToString(sum[:6]), raw: raw}
	if s.mediaType == "" {
		panic("page: no media type for " + name)
	}
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is one of its own
	_, _ = z.Write(raw)                                   // a buffer takes all
	_ = z.Close()
	s.packed = b.Bytes()
	return s
}

var mediaTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml", ".png": "image/png",
	".txt": "text/plain; charset=utf-8", ".webmanifest": "application/manifest+json",
}

func (p *Pages) staticRoutes() []Route {
	return []Route{
		get("/static/:name", p.staticFile),
		// A service worker rules the paths below its own.
		get("/sw.js", func(*Ask) (Reply, error) { return Reply{static: statics()["sw.js"]}, nil }),
		get("/offline", func(*Ask) (Reply, error) { return Show("offline", nil), nil }),
	}
}

// file is the address of a static file, with its hash.
func file(name string) string {
	return "/static/" + name + "?v=" + statics()[name].hash
}

func (p *Pages) staticFile(a *Ask) (Reply, error) {
	s, found := statics()[a.Param("name")]
	if !found {
		return Reply{}, fault.New(fault.NotFound, "there is no file %q here", a.Param("name"))
	}
	return Reply{static: s}, nil
}

func (s *static) give(a *Ask) {
	h := a.W.Header()
	h.Set("Content-Type", s.mediaType)
	h.Set("Vary", "Accept-Encoding")
	h.Set("Cache-Control", "no-cache")
	if a.Query("v") == s.hash {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	body := s.raw
	if len(s.packed) < len(s.raw) && strings.Contains(a.R.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = s.packed
	}
	a.W.WriteHeader(http.StatusOK)
	if a.R.Method != http.MethodHead {
		_, _ = a.W.Write(body) // an asker who went away is not told
	}
}
