package originals

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"time"

	"github.com/minio/minio-go/v7"

	"pawl/model/fault"
)

// Put is a Folder's. What comes in is received on this computer and held against its
// hash before the bucket gets any of it; the bucket is told the hash and takes nothing
// else under it, and it takes nothing where there is an object already. Only then, when
// the bucket names its length too, is it kept.
func (b *Bucket) Put(ctx context.Context, sha256hex string, r io.Reader, limit int64) (size int64, created bool, err error) {
	if err := CheckHash(sha256hex); err != nil {
		return 0, false, err
	}
	if limit < 0 {
		return 0, false, fault.New(fault.Invalid, "a limit of %d bytes is below zero", limit)
	}
	if err := b.claim(ctx); err != nil {
		return 0, false, err
	}
	kept, err := b.stat(ctx, sha256hex)
	if err == nil {
		size, err = receiveAgain(ctx, sha256hex, r, limit, kept.Size)
		return size, false, err
	}
	if !fault.Is(err, fault.NotFound) {
		return 0, false, err
	}
	temp, size, err := b.in.take(ctx, sha256hex, r, limit)
	if err != nil {
		return 0, false, err
	}
	defer func() {
		temp.Close()
		os.Remove(temp.Name())
	}()
	if created, err = b.create(ctx, b.key(sha256hex), sha256hex, io.NewSectionReader(temp, 0, size)); err != nil {
		return 0, false, err
	}
	if kept, err = b.stat(ctx, sha256hex); err != nil {
		return 0, false, err
	}
	if err := sameLength(sha256hex, kept.Size, size); err != nil {
		return 0, false, err
	}
	return size, created, nil
}

// putLimit is how long a put may take: bytes at 64 kB/s at least, and tries beside.
func putLimit(size int64) time.Duration {
	return 2*time.Minute + time.Duration(size/(64<<10))*time.Second
}

// create puts an object where there is none; created is false where there is one. A put
// whose answer was lost is repeated by the library, and meets itself.
func (b *Bucket) create(ctx context.Context, key, sha256hex string, body *io.SectionReader) (created bool, err error) {
	ctx, done := context.WithTimeout(ctx, putLimit(body.Size()))
	defer done()
	// One put, never in parts: it is there whole, or not at all. It is signed with the hash
	// of its bytes.
	opts := minio.PutObjectOptions{ContentType: "application/octet-stream", DisableMultipart: true, DisableContentSha256: true}
	opts.SetMatchETagExcept("*")
	for try := 1; ; try++ {
		_, err := b.core.PutObject(ctx, b.Bucket, key, body, body.Size(), "", sha256hex, opts)
		switch c := code(err); {
		case err == nil:
			return true, nil
		case c == minio.PreconditionFailed:
			return false, nil
		case c != "ConditionalRequestConflict" || try == tries:
			return false, b.away(err)
		}
		// Another was putting it at that moment (S3 user guide, "Conditional writes": 409).
		select {
		case <-time.After(time.Duration(try) * 100 * time.Millisecond):
		case <-ctx.Done():
			return false, b.away(ctx.Err())
		}
	}
}

// markName is the object that says whose originals these are: where two shops shared a
// bucket, each would remove what the other has, as nothing of its own names it.
const markName = "pawl"

// claim sees that the bucket bears our mark, and leaves it where there is none. Its fault
// is Refused where it bears another's.
func (b *Bucket) claim(ctx context.Context) error {
	if b.owned.Load() {
		return nil
	}
	owner, err := b.small(ctx, markName)
	if fault.Is(err, fault.NotFound) {
		if _, err = b.createSmall(ctx, markName, b.Owner); err == nil {
			owner, err = b.small(ctx, markName)
		}
	}
	if err != nil {
		return err
	}
	if owner != b.Owner {
		return fault.New(fault.Refused, "%s holds the originals of another shop, %.40q", b.Location, owner).
			WithHint("give each shop a bucket, or a prefix, of its own")
	}
	b.owned.Store(true)
	return nil
}

// small reads a short text of ours.
func (b *Bucket) small(ctx context.Context, name string) (string, error) {
	ctx, done := context.WithTimeout(ctx, askLimit)
	defer done()
	body, _, _, err := b.core.GetObject(ctx, b.Bucket, b.named(name), minio.GetObjectOptions{})
	if code(err) == minio.NoSuchKey {
		return "", fault.New(fault.NotFound, "there is no %s in %s", name, b.Location)
	}
	if err != nil {
		return "", b.away(err)
	}
	defer body.Close()
	text, err := io.ReadAll(io.LimitReader(body, 1<<10))
	return string(bytes.TrimSpace(text)), b.away(err)
}

func (b *Bucket) createSmall(ctx context.Context, name, text string) (created bool, err error) {
	raw := []byte(text + "\n")
	sum := sha256.Sum256(raw)
	return b.create(ctx, b.named(name), hex.EncodeToString(sum[:]), io.NewSectionReader(bytes.NewReader(raw), 0, int64(len(raw))))
}
