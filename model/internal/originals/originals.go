// Package originals keeps bytes by their SHA-256, in a folder or in a bucket of an
// S3-compatible server.
//
// An original is a file as received, never changed. It lies at aa/bb…, where
// aabb… is its SHA-256 in hex, and may only be read. What is being received lies
// in a folder of its own on this computer until its hash is right. Then it becomes an
// original in one step: in a folder by a rename, after its bytes are on the disk; in a
// bucket by one put that is refused where there is an object of that name. So at any
// moment a name is either absent or complete. A crash leaves at most a leftover among
// what is being received.
//
// Any number of goroutines and processes may share a folder or a bucket.
package originals

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"pawl/model/fault"
)

// Keeper keeps originals: a Folder or a Bucket. Its methods are described at Folder.
// Where a Bucket does not answer, each of them is Unavailable.
type Keeper interface {
	Put(ctx context.Context, sha256hex string, r io.Reader, limit int64) (size int64, created bool, err error)
	Open(sha256hex string) (io.ReadSeekCloser, int64, error)
	Check(sha256hex string) error
	Remove(sha256hex string) error
	Walk(visit func(sha256hex string, size int64, modified time.Time) error) error
	RemoveLeftovers(before time.Time) (removed int, err error)
}

const incoming = "incoming"

// Folder is a folder of originals.
type Folder struct {
	dir      string
	incoming spool

	mu      sync.Mutex      // held from looking for an original to renaming it into place
	durable map[string]bool // shards whose own name is known to be on the disk
}

// Open returns the folder at dir, made with mode 0700 if absent. It fails with
// Unavailable when it cannot be made or is not a folder.
func Open(dir string) (*Folder, error) {
	in := spool(filepath.Join(dir, incoming))
	if err := os.MkdirAll(string(in), 0o700); err != nil {
		return nil, diskFault("the folder of originals cannot be opened", err)
	}
	return &Folder{dir: dir, incoming: in, durable: map[string]bool{}}, nil
}

// Open gives an original for reading and its size in bytes; the caller closes
// it. It fails with Invalid for a hash that is malformed and NotFound for one that
// is not kept.
func (f *Folder) Open(sha256hex string) (io.ReadSeekCloser, int64, error) {
	if err := CheckHash(sha256hex); err != nil {
		return nil, 0, err
	}
	file, err := os.Open(f.path(sha256hex))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, notKept(sha256hex)
	}
	if err != nil {
		return nil, 0, diskFault("original "+sha256hex+" cannot be opened", err)
	}
	info, err := file.Stat()
	if err != nil {
		file.Close()
		return nil, 0, diskFault("original "+sha256hex+" cannot be opened", err)
	}
	return file, info.Size(), nil
}

// Remove deletes an original, for good once it returns. It fails as Open does.
func (f *Folder) Remove(sha256hex string) error {
	if err := CheckHash(sha256hex); err != nil {
		return err
	}
	path := f.path(sha256hex)
	err := os.Remove(path)
	if errors.Is(err, fs.ErrNotExist) {
		return notKept(sha256hex)
	}
	if err == nil {
		err = syncFolder(filepath.Dir(path))
	}
	if err != nil {
		return diskFault("original "+sha256hex+" cannot be removed", err)
	}
	return nil
}

func (f *Folder) path(sha256hex string) string {
	return filepath.Join(f.dir, sha256hex[:2], sha256hex[2:])
}

// CheckHash refuses as Invalid what is not a SHA-256 in lower-case hex. It is strict, so that no text from outside can lead out of the folder.
func CheckHash(sha256hex string) error {
	if isHex(sha256hex, 64) {
		return nil
	}
	shown := sha256hex
	if len(shown) > 80 {
		shown = shown[:80] + "…"
	}
	return fault.New(fault.Invalid, "%q is not a SHA-256", shown).WithHint("write 64 digits, 0-9 and a-f in lower case")
}

func isHex(s string, digits int) bool {
	if len(s) != digits {
		return false
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

func notKept(sha256hex string) error {
	return fault.New(fault.NotFound, "no original %s is kept here", sha256hex).WithHint("send the file again")
}

// diskFault keeps the cause, which may name a path, for the log.
func diskFault(message string, cause error) error {
	return fault.New(fault.Unavailable, "%s", message).WithHint("look at the disk: space, rights, health").WithCause(cause)
}

// syncFolder puts the names in a folder on the disk.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
