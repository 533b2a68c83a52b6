package cli

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"github.com/urfave/cli/v2"

	"pawl/api/board"
	"pawl/model/fault"
)

// waiting is an act that could not be sent: all that is needed to ask for it once
// more, under its own replay key.
type waiting struct {
	Key      string     `json:"key"`
	Scan     string     `json:"scan"`
	Kind     board.Kind `json:"kind"`
	Number   string     `json:"number"`
	Badge    string     `json:"badge,omitempty"`
	Name     string     `json:"name,omitempty"`
	Job      string     `json:"job,omitempty"`
	Since    string     `json:"since,omitempty"`
	Of       string     `json:"of,omitempty"`
	Happened string     `json:"happened"` // RFC 3339
}

// entry is a line of the file: an act that waits, or that one waits no longer,
// with the since of the custody that it left.
type entry struct {
	Act   *waiting `json:"act,omitempty"`
	Over  string   `json:"over,omitempty"`
	Since string   `json:"since,omitempty"`
}

// queue holds what waits, oldest first, in a file of which each line is on disk
// before the scan is answered. A line that a crash cut short was answered to nobody.
// The file is made when something has to wait, and empty when nothing does.
type queue struct {
	path    string // empty: there is no folder for it
	file    *os.File
	acts    []waiting
	since   map[string]string // what acts that waited left, by key
	earlier map[string]bool   // keys that an earlier board left waiting
}

// queuePath says where a board keeps what waits: beside the records of a shop that
// is here; for a server in the state folder, a file each. By the XDG Base Directory
// Specification 0.8 a relative $XDG_STATE_HOME is ignored.
func queuePath(c *cli.Context, p *program, env func(string) string) (string, error) {
	server := c.String("server")
	if server == "" {
		f, err := p.folder(c)
		return filepath.Join(f.dir, "board.queue"), err
	}
	base := env("XDG_STATE_HOME")
	if !filepath.IsAbs(base) {
		if base = env("HOME"); !filepath.IsAbs(base) {
			return "", nil
		}
		base = filepath.Join(base, ".local", "state")
	}
	sum := sha256.Sum256([]byte(strings.ToLower(strings.TrimRight(server, "/"))))
	return filepath.Join(base, "pawl", "board", hex.EncodeToString(sum[:8])+".queue"), nil
}

// openQueue reads what an earlier board left waiting. One file is one board's.
func openQueue(path string) (*queue, error) {
	q := &queue{path: path, since: map[string]string{}, earlier: map[string]bool{}}
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if path == "" || errors.Is(err, fs.ErrNotExist) {
		return q, nil
	}
	if err != nil {
		return nil, cannotRead(path, err)
	}
	if err := q.hold(file); err != nil {
		return nil, err
	}
	err = q.read()
	for _, w := range q.acts {
		q.earlier[w.Key] = true
	}
	return q, err
}

// hold makes the file this board's alone.
func (q *queue) hold(file *os.File) error {
	if err := syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		file.Close()
		return fault.New(fault.Conflict, "another board on this computer keeps its scans in %s", q.path).WithHint("end that one, or use it").WithCause(err)
	}
	q.file = file
	return nil
}

func (q *queue) read() error {
	raw, err := io.ReadAll(q.file)
	if err != nil {
		return cannotRead(q.path, err)
	}
	whole := bytes.LastIndexByte(raw, '\n') + 1
	for i, line := range bytes.Split(raw[:whole], []byte("\n")) {
		if len(line) == 0 {
			continue
		}
		var e entry
		if err := json.Unmarshal(line, &e); err != nil {
			return fault.New(fault.Internal, "line %d of %s cannot be read; what waits there is not sent", i+1, q.path).
				WithHint("look at the file, and move it away").WithCause(err)
		}
		q.note(e)
	}
	if err := q.file.Truncate(int64(whole)); err != nil {
		return cannotWrite(q.path, err)
	}
	_, err = q.file.Seek(int64(whole), io.SeekStart)
	return err
}

func (q *queue) note(e entry) {
	if e.Act != nil {
		q.acts = append(q.acts, *e.Act)
		return
	}
	q.since[e.Over] = e.Since
	q.acts = slices.DeleteFunc(q.acts, func(w waiting) bool { return w.Key == e.Over })
}

// add keeps an act; when it returns without a fault the act is on disk.
func (q *queue) add(w waiting) error {
	if q.file == nil {
		if err := q.make(); err != nil {
			return err
		}
	}
	if err := q.write(entry{Act: &w}); err != nil {
		return err
	}
	if err := q.file.Sync(); err != nil {
		return cannotWrite(q.path, err)
	}
	q.acts = append(q.acts, w)
	return nil
}

func (q *queue) make() error {
	if q.path == "" {
		return fault.New(fault.Unavailable, "there is no home folder to keep the scan in").WithHint("set XDG_STATE_HOME")
	}
	dir := filepath.Dir(q.path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return cannotWrite(q.path, err)
	}
	file, err := os.OpenFile(q.path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return cannotWrite(q.path, err)
	}
	if err := q.hold(file); err != nil {
		return err
	}
	folder, err := os.Open(dir)
	if err != nil {
		return cannotWrite(q.path, err)
	}
	defer folder.Close()
	return folder.Sync() // else the name may be lost though the bytes are there
}

// write appends a line. One that got there in part is taken away again.
func (q *queue) write(e entry) error {
	line, err := json.Marshal(e)
	if err != nil {
		return err
	}
	at, err := q.file.Seek(0, io.SeekCurrent)
	if err != nil {
		return cannotWrite(q.path, err)
	}
	if _, err := q.file.Write(append(line, '\n')); err != nil {
		_ = q.file.Truncate(at)
		_, _ = q.file.Seek(at, io.SeekStart)
		return cannotWrite(q.path, err)
	}
	return nil
}

// over takes an act out, with what it left. That this is lost in a crash does no
// harm: the act is sent again under its key, and gets its first answer.
func (q *queue) over(key, since string) error {
	q.note(entry{Over: key, Since: since})
	if len(q.acts) > 0 {
		return q.write(entry{Over: key, Since: since})
	}
	if err := q.file.Truncate(0); err != nil {
		return cannotWrite(q.path, err)
	}
	_, err := q.file.Seek(0, io.SeekStart)
	return err
}

func (q *queue) close() error {
	if q.file == nil {
		return nil
	}
	return q.file.Close()
}
