package views

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"pawl/model/evidence"
	"pawl/model/fault"
)

// Broken says that an original is a picture of which a view should be possible, and that
// it could not be decoded when it came in or when somebody last asked for a view. Like
// views this is derived: it is kept beside them, and found out again where they are made.
func (m *Maker) Broken(sha string) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.broken[sha]
}

// decodedAs keeps whether an original could be decoded. What only kept it from being
// decoded now, such as a busy machine, says nothing of it.
func (m *Maker) decodedAs(sha string, media evidence.Media, err error) {
	switch {
	case err == nil:
		m.mend(sha)
	case media.Views && fault.Is(err, fault.NotFound):
		m.breakOff(sha)
	}
}

func (m *Maker) brokenDir() string { return filepath.Join(m.Dir, "broken") }

// markedBroken reads which originals were found broken before.
func (m *Maker) markedBroken() map[string]bool {
	out := map[string]bool{}
	all, err := os.ReadDir(m.brokenDir())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		m.Log.Warn("which photos are broken cannot be read", "error", err)
	}
	for _, e := range all {
		out[e.Name()] = true
	}
	return out
}

// breakOff keeps that an original cannot be decoded.
func (m *Maker) breakOff(sha string) {
	m.mu.Lock()
	known := m.broken[sha]
	m.broken[sha] = true
	m.mu.Unlock()
	if known {
		return
	}
	err := os.MkdirAll(m.brokenDir(), 0o700)
	if err == nil {
		err = os.WriteFile(filepath.Join(m.brokenDir(), sha), nil, 0o600)
	}
	if err != nil {
		m.Log.Warn("that a photo is broken cannot be kept", "sha256", sha, "error", err)
	}
}

// mend forgets that an original could not be decoded.
func (m *Maker) mend(sha string) {
	m.mu.Lock()
	known := m.broken[sha]
	delete(m.broken, sha)
	m.mu.Unlock()
	if !known {
		return
	}
	if err := os.Remove(filepath.Join(m.brokenDir(), sha)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		m.Log.Warn("that a photo is whole again cannot be kept", "sha256", sha, "error", err)
	}
}
