package originals

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"pawl/model/fault"
)

const chunk = 64 << 10 // bytes held in memory at a time

// Put keeps what r gives under its SHA-256, up to limit bytes. When it returns
// without error, the bytes and their name are on the disk. An original that is
// there already is left alone: r is read to its end and checked all the same, and
// created is false. Of several processes that put the same original at once, more
// than one may be told that it created it.
//
// Faults: Invalid for a malformed hash, a negative limit, or bytes that hash to
// something else; TooLarge over limit; Conflict when the one that is there has
// another size, and so is damaged; Unavailable when r or the disk fails or ctx
// ends, which is looked at between chunks. A fault that r returns is passed on. On
// failure nothing new is kept.
func (f *Folder) Put(ctx context.Context, sha256hex string, r io.Reader, limit int64) (size int64, created bool, err error) {
	if err := CheckHash(sha256hex); err != nil {
		return 0, false, err
	}
	if limit < 0 {
		return 0, false, fault.New(fault.Invalid, "a limit of %d bytes is below zero", limit)
	}
	kept, err := os.Stat(f.path(sha256hex))
	if err == nil {
		return f.putAgain(ctx, sha256hex, r, limit, kept.Size())
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return 0, false, diskFault("the folder of originals cannot be read", err)
	}
	temp, size, err := f.incoming.take(ctx, sha256hex, r, limit)
	if err != nil {
		return 0, false, err
	}
	defer os.Remove(temp.Name()) // gone already when it was renamed
	err = settle(temp)
	if closeErr := temp.Close(); err == nil && closeErr != nil {
		err = diskFault("the original cannot be written", closeErr)
	}
	if err != nil {
		return 0, false, err
	}
	created, err = f.place(temp.Name(), sha256hex)
	if err != nil {
		return 0, false, err
	}
	return size, created, nil
}

// putAgain checks a repeated upload without writing it.
func (f *Folder) putAgain(ctx context.Context, sha256hex string, r io.Reader, limit, kept int64) (int64, bool, error) {
	size, err := receiveAgain(ctx, sha256hex, r, limit, kept)
	if err != nil {
		return 0, false, err
	}
	// Whoever renamed it may not have come to this yet.
	if err := f.syncShard(sha256hex); err != nil {
		return 0, false, err
	}
	return size, false, nil
}

// receiveAgain reads what is kept already, in so many bytes, to its end.
func receiveAgain(ctx context.Context, sha256hex string, r io.Reader, limit, kept int64) (int64, error) {
	size, err := receive(ctx, sha256hex, r, limit, nil)
	if err != nil {
		return 0, err
	}
	return size, sameLength(sha256hex, kept, size)
}

func sameLength(sha256hex string, kept, want int64) error {
	if kept == want {
		return nil
	}
	return fault.New(fault.Conflict, "original %s is damaged: it has %d bytes and should have %d", sha256hex, kept, want).
		WithHint("restore it from a copy")
}

// spool is the folder where what is being received lies.
type spool string

// take receives an original into a new file, which the caller closes and removes.
func (s spool) take(ctx context.Context, sha256hex string, r io.Reader, limit int64) (temp *os.File, size int64, err error) {
	temp, err = os.CreateTemp(string(s), "put-*")
	if err != nil {
		return nil, 0, diskFault("the original cannot be written", err)
	}
	if size, err = receive(ctx, sha256hex, r, limit, temp); err != nil {
		temp.Close()
		os.Remove(temp.Name())
		return nil, 0, err
	}
	return temp, size, nil
}

// receive copies r to w (which may be nil) and checks limit and hash on the way.
func receive(ctx context.Context, sha256hex string, r io.Reader, limit int64, w io.Writer) (int64, error) {
	hash, buf := sha256.New(), make([]byte, chunk)
	var size int64
	for idle := 0; ; {
		if err := ctx.Err(); err != nil {
			return 0, brokenOff(size, err)
		}
		n, readErr := r.Read(buf)
		size += int64(n)
		if size > limit {
			return 0, fault.New(fault.TooLarge, "the file has more than %d bytes, which is the limit", limit).
				WithHint("send a smaller file")
		}
		hash.Write(buf[:n])
		if w != nil {
			if _, err := w.Write(buf[:n]); err != nil {
				return 0, diskFault("the original cannot be written", err)
			}
		}
		if readErr == io.EOF {
			break
		}
		if idle++; n > 0 {
			idle = 0
		}
		if readErr == nil && idle > 100 {
			readErr = io.ErrNoProgress
		}
		if readErr != nil {
			return 0, brokenOff(size, readErr)
		}
	}
	return size, compare(sha256hex, hex.EncodeToString(hash.Sum(nil)))
}

func compare(want, got string) error {
	if want == got {
		return nil
	}
	return fault.New(fault.Invalid, "the file was announced as %s, but its bytes hash to %s", want, got).
		WithHint("send it again; if it repeats, the file changed after it was hashed")
}

// brokenOff passes a fault of the reader on; anything else may be tried again.
func brokenOff(size int64, cause error) error {
	var own *fault.Error
	if errors.As(cause, &own) {
		return own
	}
	return fault.New(fault.Unavailable, "the upload broke off after %d bytes", size).WithHint("send it again").WithCause(cause)
}

// settle makes the bytes read-only and puts them on the disk.
func settle(temp *os.File) error {
	if err := errors.Join(temp.Chmod(0o400), temp.Sync()); err != nil {
		return diskFault("the original cannot be written", err)
	}
	return nil
}

// place renames a settled file to its name, unless the original came to be there
// meanwhile, and puts the name on the disk.
func (f *Folder) place(temp, sha256hex string) (created bool, err error) {
	path := f.path(sha256hex)
	f.mu.Lock()
	_, err = os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		created = true
		if err = os.MkdirAll(filepath.Dir(path), 0o700); err == nil {
			err = os.Rename(temp, path)
		}
	}
	f.mu.Unlock()
	if err != nil {
		return false, diskFault("the original cannot be put in its place", err)
	}
	return created, f.syncShard(sha256hex)
}

// syncShard puts the names in an original's own folder on the disk, and once per
// Folder the name of that folder.
func (f *Folder) syncShard(sha256hex string) error {
	shard := sha256hex[:2]
	err := syncFolder(filepath.Join(f.dir, shard))
	f.mu.Lock()
	known := f.durable[shard]
	f.mu.Unlock()
	if err == nil && !known {
		if err = syncFolder(f.dir); err == nil {
			f.mu.Lock()
			f.durable[shard] = true
			f.mu.Unlock()
		}
	}
	if err != nil {
		return diskFault("the original cannot be put in its place", err)
	}
	return nil
}
