package page

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

// Ask is one request to a page.
type Ask struct {
	pages *Pages
	W     http.ResponseWriter
	R     *http.Request
	By    model.By
	Param func(string) string // of the path

	// Failed, where set, is told why a request was refused.
	Failed func(error)

	// Refused, where set, is why the badge of an act at a shop device does not
	// count; By is that device then.
	Refused error

	form  url.Values
	files map[string][]*multipart.FileHeader
}

// Me is who asks.
func (a *Ask) Me() people.Actor { return a.By.Actor }

// maxForm is the most bytes of one form: two originals and what is typed.
const maxForm = 2*evidence.MaxBytes + 1<<20

// readForm takes what was typed and the files beside it, and the one-use key
// under which a second tap or a retry gives the first answer.
func (a *Ask) readForm() error {
	a.R.Body = http.MaxBytesReader(a.W, a.R.Body, maxForm)
	var err error
	if strings.HasPrefix(a.R.Header.Get("Content-Type"), "multipart/form-data") {
		err = a.R.ParseMultipartForm(1 << 20)
	} else {
		err = a.R.ParseForm()
	}
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		return fault.New(fault.TooLarge, "the form and its photos have more than %d bytes", big.Limit).WithHint("send fewer photos at once")
	case err != nil:
		return fault.New(fault.Malformed, "the form did not arrive whole").WithHint("send it again").WithCause(err)
	}
	a.form = a.R.PostForm
	if a.R.MultipartForm != nil {
		a.files = a.R.MultipartForm.File
	}
	for name, all := range a.form {
		for _, v := range all {
			if !utf8.ValidString(v) || strings.ContainsRune(v, 0) {
				return fault.New(fault.Malformed, "what was typed into %q is not text", name)
			}
		}
	}
	if who := a.R.Header.Get(whoHeader); who != "" && who != a.who() {
		return fault.New(fault.Conflict, "somebody else did this on this phone, before you were let in").WithHint("they do it again, or you do it in your own name")
	}
	if key := a.form.Get("key"); key != "" {
		if len(key) > 100 || strings.ContainsFunc(key, func(r rune) bool { return r <= ' ' || r > '~' }) {
			return fault.New(fault.Malformed, "the key of the form is not one of ours").WithHint("load the page again")
		}
		a.By.Key = "page:" + a.R.URL.Path + ":" + key
	}
	return nil
}

// whoHeader says, of what the page's own script sends, who did it.
const whoHeader = "Pawl-Who"

// who tells apart the people who use one phone, one after the other.
func (a *Ask) who() string {
	me := a.Me()
	if me.Device != "" { // a badge names somebody for one act only
		return me.Device
	}
	return strings.TrimSuffix(string(me.Via)+"/"+me.Person, "/")
}

// done removes what the form's files left on disk.
func (a *Ask) done() {
	if a.R.MultipartForm != nil {
		_ = a.R.MultipartForm.RemoveAll() // temporary files; the system's own sweep takes what stays
	}
}

// Value is what was typed into a field, trimmed.
func (a *Ask) Value(name string) string { return strings.TrimSpace(a.form.Get(name)) }

// Has says whether a field was in the form at all.
func (a *Ask) Has(name string) bool { return a.form.Has(name) }

// Query is a parameter of the address, trimmed.
func (a *Ask) Query(name string) string { return strings.TrimSpace(a.R.URL.Query().Get(name)) }

// Said tells whether a file was chosen in a photo picker.
func (a *Ask) HasFile(name string) bool {
	for _, f := range a.files[name] {
		if f.Size > 0 {
			return true
		}
	}
	return false
}

// Originals stores the files chosen in a photo picker and names them to be
// attached as that kind. None is none.
func (a *Ask) Originals(field string, kind evidence.Kind) (out []register.Attach, err error) {
	for _, f := range a.files[field] {
		if f.Size == 0 { // an untouched picker sends an empty file
			continue
		}
		sha, err := a.keep(f)
		if err != nil {
			return out, err
		}
		out = append(out, register.Attach{SHA256: sha, Kind: string(kind), Name: f.Filename})
	}
	return out, nil
}

func (a *Ask) keep(f *multipart.FileHeader) (string, error) {
	r, err := f.Open()
	if err != nil {
		return "", err
	}
	defer r.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, r); err != nil {
		return "", err
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return "", err
	}
	sha := hex.EncodeToString(sum.Sum(nil))
	by := a.By
	by.Key = "" // the act that names it has the key
	_, _, err = a.pages.shop.StoreOriginal(a.R.Context(), by, model.Upload{SHA256: sha, Name: f.Filename, MediaType: f.Header.Get("Content-Type"), Size: f.Size}, r)
	return sha, err
}

// language is the first of the asker's languages that the catalog has: their
// choice on this device, then what the browser sends.
func (a *Ask) language() words.Language {
	if c, err := a.R.Cookie(languageCookie); err == nil {
		if l, ok := words.Find(c.Value); ok {
			return l
		}
	}
	return words.Prefer(a.R.Header.Get("Accept-Language"))
}

const (
	languageCookie = "lang"
	saidCookie     = "said"
	jobCookie      = "job"
)

// newKey draws the one-use key of a form.
func (p *Pages) newKey() string {
	b := make([]byte, 12)
	if _, err := io.ReadFull(p.chance, b); err != nil {
		panic("page: no chance to draw a key from: " + err.Error())
	}
	return base64.RawURLEncoding.EncodeToString(b)
}

// rememberJob keeps on this phone the job that the next tools are taken for,
// until the end of a working day; an empty number forgets it.
func (a *Ask) rememberJob(number string) {
	seconds := 12 * 3600
	if number == "" {
		seconds = -1
	}
	a.setCookie(jobCookie, base64.RawURLEncoding.EncodeToString([]byte(number)), seconds)
}

// job is the one that this phone remembers; empty: none.
func (a *Ask) job() string {
	c, err := a.R.Cookie(jobCookie)
	if err != nil {
		return ""
	}
	raw, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil || !utf8.Valid(raw) {
		return ""
	}
	return string(raw)
}

// setCookie keeps something small on this device that no script reads; negative
// seconds take it away.
func (a *Ask) setCookie(name, value string, seconds int) {
	http.SetCookie(a.W, &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: seconds, HttpOnly: true, Secure: a.pages.door.HTTPS(a.R), SameSite: http.SameSiteLaxMode})
}
