package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
)

// photos of a size that no rule minds.
func aPhoto(t testing.TB, side int, write func(io.Writer, image.Image) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b, image.NewGray(image.Rect(0, 0, side, side))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(w io.Writer, m image.Image) error  { return png.Encode(w, m) }
func asJPEG(w io.Writer, m image.Image) error { return jpeg.Encode(w, m, nil) }

// aWebP is one pixel: the file that the WebP container specification calls
// simple lossless, with a VP8L frame header for 1 x 1.
var aWebP = []byte("RIFF\x1a\x00\x00\x00WEBPVP8L\x0d\x00\x00\x00\x2f\x00\x00\x00\x10\x07\x10\x11\x11\x88\x88\xfe\x07\x00")

const aPDF = "%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj 2 0 obj<</Type/Pages/Kids[]/Count 0>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"

// heic is a file type box of ISO/IEC 14496-12 with that brand, then an empty
// meta box: what a phone's picture begins with.
func heic(brand string) []byte {
	return []byte("\x00\x00\x00\x18ftyp" + brand + "\x00\x00\x00\x00" + brand + "mif1\x00\x00\x00\x0cmeta\x00\x00\x00\x00")
}

func shaOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

func (a asker) upload(b []byte, headers ...string) reply {
	a.Helper()
	return a.send(http.MethodPut, Prefix+"/evidence/"+shaOf(b), bytes.NewReader(b), headers...)
}

func TestUploadAndAttach(t *testing.T) {
	s := openShop(t)
	a := s.person("Tech A", people.Technician)
	tool := a.registered(aTool("KD408B217"))
	photo := aPhoto(t, 64, asJPEG)
	r := a.upload(photo, "Content-Type: image/jpeg", "Content-Disposition: attachment; filename*=UTF-8''plate%20n%C2%BA%201.jpg").want(http.StatusCreated)
	var o wire.Original
	r.into(&o)
	if o.SHA256 != shaOf(photo) || o.MediaType != "image/jpeg" || o.Width != 64 || o.ClaimedAt != nil || o.Place != nil || r.header("Location") != Prefix+"/evidence/"+o.SHA256 {
		t.Errorf("uploaded %+v at %s", o, r.header("Location"))
	}
	if again := a.upload(photo).want(http.StatusOK); again.header("Location") != "" {
		t.Errorf("the second time it is created: %v", again.Header())
	}
	at := "/tools/" + tool.Number
	a.post(at+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "plate", SHA256: o.SHA256, Name: "plate nº 1.jpg"}}}).want(http.StatusOK)
	a.get(at).want(http.StatusOK).into(&tool)
	if len(tool.Evidence) != 1 || tool.Evidence[0].Kind != "plate" || tool.Evidence[0].Bytes != int64(len(photo)) ||
		tool.Evidence[0].Name != "plate nº 1.jpg" || tool.Evidence[0].ClaimedAt != nil || tool.Evidence[0].Differs {
		t.Errorf("attached %+v", tool.Evidence)
	}
	a.post(at+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "selfie", SHA256: o.SHA256}}}).refused(http.StatusUnprocessableEntity)
	a.post(at+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "plate", SHA256: strings.Repeat("0", 64)}}}).refused(http.StatusNotFound)
}

// Bytes come back as they went in, and a browser can do nothing with them.
func TestOriginalsAreServedAsReceived(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	for kind, file := range map[string][]byte{
		"image/jpeg": aPhoto(t, 32, asJPEG), "image/png": aPhoto(t, 32, asPNG), "image/webp": aWebP,
		"application/pdf": []byte(aPDF), "image/heic": heic("heic"), "image/heif": heic("mif1"),
	} {
		var o wire.Original
		m.upload(file).want(http.StatusCreated).into(&o)
		if o.MediaType != kind {
			t.Errorf("%s is taken for %s", kind, o.MediaType)
		}
		at := "/evidence/" + o.SHA256
		r := m.get(at).want(http.StatusOK)
		if !bytes.Equal(r.Body.Bytes(), file) {
			t.Errorf("%s: %d bytes came back of %d", kind, r.Body.Len(), len(file))
		}
		if r.header("Content-Type") != kind || r.header("ETag") != `"`+o.SHA256+`"` || r.header("X-Content-Type-Options") != "nosniff" ||
			!strings.HasPrefix(r.header("Content-Security-Policy"), "sandbox;") ||
			!strings.HasPrefix(r.header("Content-Disposition"), `attachment; filename="`+o.SHA256[:12]+".") {
			t.Errorf("%s: %v", kind, r.Header())
		}
		m.get(at, `If-None-Match: "`+o.SHA256+`"`).want(http.StatusNotModified)
		m.get(at, "Accept: image/*;q=0.5, "+kind).want(http.StatusOK)
		if head := m.send(http.MethodHead, Prefix+at, nil).want(http.StatusOK); head.Body.Len() != 0 || head.header("Content-Length") == "" {
			t.Errorf("HEAD gives %d bytes, %v", head.Body.Len(), head.Header())
		}
		other := map[bool]string{true: "image/png", false: "application/pdf"}[kind == "application/pdf"]
		m.get(at, "Accept: "+other).refused(http.StatusNotAcceptable)
	}
}

func TestUploadsRefused(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	photo := aPhoto(t, 16, asPNG)
	at := Prefix + "/evidence/"
	for name, c := range map[string]struct {
		sha     string
		body    string
		headers []string
		status  int
	}{
		"another hash":       {shaOf([]byte("x")), string(photo), nil, http.StatusUnprocessableEntity},
		"no hash":            {"xyz", string(photo), nil, http.StatusUnprocessableEntity},
		"plain text":         {shaOf([]byte("hello, hello")), "hello, hello", nil, http.StatusUnsupportedMediaType},
		"sent as a PDF":      {shaOf(photo), string(photo), []string{"Content-Type: application/pdf"}, http.StatusUnsupportedMediaType},
		"named as a program": {shaOf(photo), string(photo), []string{"Content-Disposition: attachment; filename=a.exe"}, http.StatusUnsupportedMediaType},
		"an encoding":        {shaOf(photo), string(photo), []string{"Content-Encoding: gzip"}, http.StatusUnsupportedMediaType},
		"a part":             {shaOf(photo), string(photo), []string{"Content-Range: bytes 0-1/2"}, http.StatusBadRequest},
		"a broken name":      {shaOf(photo), string(photo), []string{"Content-Disposition: ;;"}, http.StatusBadRequest},
		"a broken key":       {shaOf(photo), string(photo), []string{"Idempotency-Key: a b"}, http.StatusBadRequest},
	} {
		r := m.send(http.MethodPut, at+c.sha, strings.NewReader(c.body), c.headers...)
		if r.refused(r.Code); r.Code != c.status {
			t.Errorf("%s: %d, want %d\n%s", name, r.Code, c.status, r.Body)
		}
	}
	m.get("/evidence/" + shaOf(photo)).refused(http.StatusNotFound)
}

// What others may not see is not found, and not forbidden (DETAILS, "Access").
func TestOriginalsAreHidden(t *testing.T) {
	s := openShop(t)
	a, b := s.person("Tech A", people.Technician), s.person("Tech B", people.Technician)
	receipt := aPhoto(t, 24, asPNG)
	a.upload(receipt).want(http.StatusCreated)
	at := "/evidence/" + shaOf(receipt)
	a.get(at).want(http.StatusOK)
	b.get(at).refused(http.StatusNotFound)
	in := aTool("KD408B217")
	in.Owner = given("Tech A")
	in.Evidence = []wire.Attach{{Kind: "receipt", SHA256: shaOf(receipt)}}
	tool := a.registered(in)
	b.get(at).refused(http.StatusNotFound)
	var seen wire.Tool
	b.get("/tools/" + tool.Number).want(http.StatusOK).into(&seen)
	if len(tool.Evidence) != 1 || len(seen.Evidence) != 0 {
		t.Errorf("the owner sees %d papers, another %d", len(tool.Evidence), len(seen.Evidence))
	}
}

// A body that ends before its end is the sender's fault, and nothing is kept.
func TestUploadThatBreaksOff(t *testing.T) {
	s := openShop(t)
	photo := aPhoto(t, 16, asPNG)
	r, err := http.NewRequest(http.MethodPut, Prefix+"/evidence/"+shaOf(photo),
		io.NopCloser(io.MultiReader(bytes.NewReader(photo[:20]), broken{})))
	if err != nil {
		t.Fatal(err)
	}
	if p := s.manager().sent(r).refused(http.StatusBadRequest); p.Kind != "malformed" {
		t.Errorf("broken off: %+v", p)
	}
	s.manager().get("/evidence/" + shaOf(photo)).refused(http.StatusNotFound)
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, io.ErrUnexpectedEOF }

// An original that was damaged on the disk is told apart from what is sent.
func TestDamagedOriginal(t *testing.T) {
	s := openShop(t)
	photo := aPhoto(t, 16, asPNG)
	s.manager().upload(photo).want(http.StatusCreated)
	sha := shaOf(photo)
	path := filepath.Join(s.dir, "originals", sha[:2], sha[2:])
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, photo[:10], 0o600); err != nil {
		t.Fatal(err)
	}
	s.manager().upload(photo).refused(http.StatusConflict)
}
