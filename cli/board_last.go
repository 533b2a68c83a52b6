package cli

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"pawl/api/board"
)

// lastPath is where a board keeps which act an undo would take back, so that the board
// that is started next can: beside what waits, in a file that is not there when there
// is none. No badge is in it.
func lastPath(queue string) string {
	if queue == "" {
		return ""
	}
	return strings.TrimSuffix(queue, ".queue") + ".last"
}

// readLast is the act that the board before did last. What cannot be read is none: the
// tool is scanned instead.
func readLast(path string) (last board.Act, err error) {
	raw, err := os.ReadFile(path)
	if path == "" || errors.Is(err, fs.ErrNotExist) {
		return board.Act{}, nil
	}
	if err != nil {
		return board.Act{}, cannotRead(path, err)
	}
	if err := json.Unmarshal(raw, &last); err != nil {
		return board.Act{}, cannotRead(path, err)
	}
	return last, nil
}

// keepLast replaces the file whole. That the newest is lost in a crash does no harm:
// an undo names its act, and one that came before another is refused.
func keepLast(path string, last board.Act) error {
	if path == "" {
		return nil
	}
	if last == (board.Act{}) {
		if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return cannotWrite(path, err)
		}
		return nil
	}
	raw, err := json.Marshal(last)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return cannotWrite(path, err)
	}
	if err := os.WriteFile(path+".new", raw, 0o600); err != nil {
		return cannotWrite(path, err)
	}
	if err := os.Rename(path+".new", path); err != nil {
		return cannotWrite(path, err)
	}
	return nil
}

// takeUp takes up what the board before did last. What waited then may wait still, and
// else it is known what became of it.
func (r *boardRun) takeUp() {
	last, err := readLast(lastPath(r.options.queue))
	if err != nil {
		r.s.note("what the board before did last is not known, and cannot be undone here: " + err.Error())
	}
	r.board.Last, r.kept = last, last
}

// remember keeps what an undo would take back now, if that is another act.
func (r *boardRun) remember() {
	if r.board.Last == r.kept {
		return
	}
	if err := keepLast(lastPath(r.options.queue), r.board.Last); err != nil && !r.forgets {
		r.forgets = true
		r.s.note("what is done last cannot be undone by the board that is started next: " + err.Error())
	}
	r.kept = r.board.Last
}
