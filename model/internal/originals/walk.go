package originals

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"pawl/model/fault"
)

// Check reads an original again and compares its bytes with its name. It fails
// with Conflict, naming the original, when they differ, and else as Open does.
func (f *Folder) Check(sha256hex string) error { return check(f, sha256hex) }

func check(k Keeper, sha256hex string) error {
	file, _, err := k.Open(sha256hex)
	if err != nil {
		return err
	}
	defer file.Close()
	hash := sha256.New()
	if _, err := io.Copy(hash, file); fault.Is(err, fault.Unavailable) {
		return err
	} else if err != nil {
		return diskFault("original "+sha256hex+" cannot be read", err)
	}
	got := hex.EncodeToString(hash.Sum(nil))
	if got == sha256hex {
		return nil
	}
	return fault.New(fault.Conflict, "original %s is damaged: its bytes hash to %s", sha256hex, got).
		WithHint("restore it from a copy")
}

// Walk calls visit for each original in order of its name: hash, size in bytes,
// and when it was received. What is no original is passed over. It stops at the
// first error of visit and returns it.
func (f *Folder) Walk(visit func(sha256hex string, size int64, modified time.Time) error) error {
	shards, err := os.ReadDir(f.dir)
	if err != nil {
		return diskFault("the folder of originals cannot be read", err)
	}
	for _, shard := range shards {
		if !shard.IsDir() || !isHex(shard.Name(), 2) {
			continue
		}
		if err := f.walkShard(shard.Name(), visit); err != nil {
			return err
		}
	}
	return nil
}

func (f *Folder) walkShard(shard string, visit func(string, int64, time.Time) error) error {
	files, err := os.ReadDir(filepath.Join(f.dir, shard))
	if err != nil {
		return diskFault("the folder of originals cannot be read", err)
	}
	for _, file := range files {
		if !file.Type().IsRegular() || !isHex(file.Name(), 62) {
			continue
		}
		info, err := file.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue // removed since the folder was listed
		}
		if err != nil {
			return diskFault("the folder of originals cannot be read", err)
		}
		if err := visit(shard+file.Name(), info.Size(), info.ModTime()); err != nil {
			return err
		}
	}
	return nil
}

// RemoveLeftovers deletes what broken uploads left behind among what is being
// received, if it was last written before the time given, and says how many files
// that were.
func (f *Folder) RemoveLeftovers(before time.Time) (removed int, err error) {
	return f.incoming.removeLeftovers(before)
}

func (s spool) removeLeftovers(before time.Time) (removed int, err error) {
	files, err := os.ReadDir(string(s))
	if err != nil {
		return 0, diskFault("what is being received cannot be read", err)
	}
	for _, file := range files {
		info, err := file.Info()
		if err != nil || !info.Mode().IsRegular() || !info.ModTime().Before(before) {
			continue
		}
		if os.Remove(filepath.Join(string(s), file.Name())) == nil {
			removed++
		}
	}
	return removed, nil
}
