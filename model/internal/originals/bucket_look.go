package originals

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"time"

	"github.com/minio/minio-go/v7"
)

// noLag is the lag where no answer came yet.
const noLag = math.MinInt64

// observed notes what the server's clock says.
type observed struct {
	b *Bucket
	rt
}

func (o observed) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := o.rt.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	if at, bad := http.ParseTime(resp.Header.Get("Date")); bad == nil {
		o.b.lag.Store(int64(at.Sub(o.b.Clock())))
	}
	return resp, nil
}

// Look is what a bucket is found to be like.
type Look struct {
	// CreateOnly says that a second put under one name was refused and left the first as it
	// was: without it, whoever may write can put other bytes in the place of an original.
	CreateOnly bool
	// Ahead is by how much the server's clock is before ours; Told is false where no answer
	// said what it is. HTTP tells whole seconds.
	Ahead      time.Duration
	Told       bool
	Versioning string // enabled, suspended, off, or not told
	Lock       string // of objects: on, with its rule; off, or not told
}

// probeName is the object on which a second put is tried.
const probeName = "doctor"

// Look asks the bucket what it is like. It leaves two small objects in it, the mark of the
// shop and one to try a second put on. Its error means that the bucket cannot be used at
// all, and says why.
func (b *Bucket) Look(ctx context.Context) (out Look, err error) {
	there, err := b.core.BucketExists(ctx, b.Bucket)
	if err == nil && !there {
		err = minio.ErrorResponse{Code: minio.NoSuchBucket}
	}
	if err != nil {
		return out, b.away(err)
	}
	if err := b.claim(ctx); err != nil {
		return out, err
	}
	if out.CreateOnly, err = b.createsOnly(ctx); err != nil {
		return out, err
	}
	if lag := b.lag.Load(); lag != noLag {
		out.Ahead, out.Told = time.Duration(lag).Round(time.Second), true
	}
	out.Versioning, out.Lock = b.versioning(ctx), b.lock(ctx)
	return out, nil
}

// createsOnly puts two texts under one name. What is there from an earlier look is as good
// as the first.
func (b *Bucket) createsOnly(ctx context.Context) (bool, error) {
	if _, err := b.createSmall(ctx, probeName, "1"); err != nil {
		return false, err
	}
	first, err := b.small(ctx, probeName)
	if err != nil {
		return false, err
	}
	again, err := b.createSmall(ctx, probeName, first+"1")
	if err != nil {
		return false, err
	}
	is, err := b.small(ctx, probeName)
	return !again && is == first, err
}

const notTold = "not told"

func (b *Bucket) versioning(ctx context.Context) string {
	v, err := b.core.GetBucketVersioning(ctx, b.Bucket)
	switch {
	case err != nil:
		return notTold
	case v.Enabled():
		return "enabled"
	case v.Suspended():
		return "suspended"
	}
	return "off"
}

func (b *Bucket) lock(ctx context.Context) string {
	on, mode, length, unit, err := b.core.GetObjectLockConfig(ctx, b.Bucket)
	switch {
	case code(err) == "ObjectLockConfigurationNotFoundError":
		return "off"
	case err != nil:
		return notTold
	case on != "Enabled":
		return "off"
	case mode == nil || length == nil || unit == nil:
		return "on"
	}
	return fmt.Sprintf("on, %s for %d %s", *mode, *length, *unit)
}
