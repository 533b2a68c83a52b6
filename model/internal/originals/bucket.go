package originals

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"github.com/minio/minio-go/v7"

	"pawl/model/fault"
)

// BucketConfig says which bucket, on whose behalf, and how it is reached.
type BucketConfig struct {
	Location
	Owner    string                   // the shop, as its bucket is marked: pawl/ID
	Incoming string                   // folder on this computer for what is being received; made when missing
	Env      func(string) string      // the environment that names the server and the credentials
	Clock    func() time.Time         // of the shop
	stall    time.Duration            // longest silence on a connection; 0: stallLimit
	wrap     func(*http.Transport) rt // a test's; nil: none
}

type rt = http.RoundTripper

// Limits on waiting. A question about one object is asked within acts, which others wait
// for; so it takes less than what they wait (store.TurnLimit).
const (
	stallLimit = 30 * time.Second
	askLimit   = 10 * time.Second
	tries      = 4 // of one request, by the library, which waits between them
)

// Bucket is a bucket of originals. Its objects bear the prefix before the names that a
// Folder gives, so that either can be copied into the other.
type Bucket struct {
	BucketConfig
	core  minio.Core
	in    spool
	owned atomic.Bool  // it bears our mark
	lag   atomic.Int64 // by how many nanoseconds the server's clock is ahead, as its last answer said; math.MinInt64: none came
}

// OpenBucket makes ready to use a bucket. It does not ask it anything yet: whoever needs
// no original need not wait for it. Its faults are Invalid, for an environment that does
// not say how to reach it, and Unavailable, when the folder cannot be made.
func OpenBucket(c BucketConfig) (*Bucket, error) {
	w, err := wayFrom(c.Env)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(c.Incoming, 0o700); err != nil {
		return nil, diskFault("the folder of what is being received cannot be made", err)
	}
	if c.stall == 0 {
		c.stall = stallLimit
	}
	b := &Bucket{BucketConfig: c, in: spool(c.Incoming)}
	b.lag.Store(noLag)
	var through rt = b.transport()
	if c.wrap != nil {
		through = c.wrap(through.(*http.Transport))
	}
	client, err := minio.New(w.host, &minio.Options{Creds: w.who, Secure: w.secure, Region: w.region, MaxRetries: tries, Transport: observed{b, through}})
	if err != nil {
		return nil, fault.New(fault.Invalid, "AWS_ENDPOINT_URL_S3 is no address of a server").WithHint("such as https://s3.example:9000").WithCause(err)
	}
	b.core = minio.Core{Client: client}
	return b, nil
}

// transport is HTTP on which no silence lasts.
func (b *Bucket) transport() *http.Transport {
	dial := &net.Dialer{Timeout: 5 * time.Second}
	return &http.Transport{
		Proxy: http.ProxyFromEnvironment,
		DialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			c, err := dial.DialContext(ctx, network, address)
			if err != nil {
				return nil, err
			}
			return lively{c, b.stall}, nil
		},
		TLSClientConfig:     &tls.Config{MinVersion: tls.VersionTLS12},
		TLSHandshakeTimeout: 10 * time.Second,
		MaxIdleConnsPerHost: 16,
		IdleConnTimeout:     b.stall / 2,
		DisableCompression:  true, // an original comes as it is
	}
}

// lively is a connection that fails when nothing moves on it for a while.
type lively struct {
	net.Conn
	limit time.Duration
}

func (l lively) Read(p []byte) (int, error) {
	defer time.AfterFunc(l.limit, func() { l.Conn.Close() }).Stop()
	return l.Conn.Read(p)
}

func (l lively) Write(p []byte) (int, error) {
	defer time.AfterFunc(l.limit, func() { l.Conn.Close() }).Stop()
	return l.Conn.Write(p)
}

// key is the name of an original's object.
func (b *Bucket) key(sha256hex string) string { return b.named(sha256hex[:2] + "/" + sha256hex[2:]) }

func (b *Bucket) named(name string) string {
	if b.Prefix == "" {
		return name
	}
	return b.Prefix + "/" + name
}

// stat gives the size and the ETag of an object; NotFound when there is none.
func (b *Bucket) stat(ctx context.Context, sha256hex string) (minio.ObjectInfo, error) {
	ctx, done := context.WithTimeout(ctx, askLimit)
	defer done()
	info, err := b.core.StatObject(ctx, b.Bucket, b.key(sha256hex), minio.StatObjectOptions{})
	if code(err) == minio.NoSuchKey {
		return info, notKept(sha256hex)
	}
	return info, b.away(err)
}

// Open is a Folder's. The bytes come when they are read, from where the reader stands.
func (b *Bucket) Open(sha256hex string) (io.ReadSeekCloser, int64, error) {
	if err := CheckHash(sha256hex); err != nil {
		return nil, 0, err
	}
	info, err := b.stat(context.Background(), sha256hex)
	if err != nil {
		return nil, 0, err
	}
	return &object{b: b, key: b.key(sha256hex), etag: info.ETag, size: info.Size}, info.Size, nil
}

// Check is a Folder's.
func (b *Bucket) Check(sha256hex string) error { return check(b, sha256hex) }

// Remove is a Folder's. Where the bucket keeps versions, they stay.
func (b *Bucket) Remove(sha256hex string) error {
	if err := CheckHash(sha256hex); err != nil {
		return err
	}
	ctx, done := context.WithTimeout(context.Background(), askLimit)
	defer done()
	if err := b.claim(ctx); err != nil {
		return err
	}
	if _, err := b.stat(ctx, sha256hex); err != nil {
		return err
	}
	return b.away(b.core.RemoveObject(ctx, b.Bucket, b.key(sha256hex), minio.RemoveObjectOptions{}))
}

// Walk is a Folder's; when an object was received is what the server says.
func (b *Bucket) Walk(visit func(sha256hex string, size int64, modified time.Time) error) error {
	ctx, done := context.WithCancel(context.Background())
	defer done()
	start := b.named("")
	for o := range b.core.ListObjectsIter(ctx, b.Bucket, minio.ListObjectsOptions{Prefix: start, Recursive: true}) {
		if o.Err != nil {
			return b.away(o.Err)
		}
		shard, rest, _ := strings.Cut(strings.TrimPrefix(o.Key, start), "/")
		if !isHex(shard, 2) || !isHex(rest, 62) {
			continue
		}
		if err := visit(shard+rest, o.Size, o.LastModified); err != nil {
			return err
		}
	}
	return nil
}

// RemoveLeftovers is a Folder's: nothing in the bucket is half-written.
func (b *Bucket) RemoveLeftovers(before time.Time) (removed int, err error) {
	return b.in.removeLeftovers(before)
}

// object reads an object from where it stands, by a request that goes on to its end.
type object struct {
	b        *Bucket
	key      string
	etag     string
	size, at int64
	body     io.ReadCloser
	cancel   context.CancelFunc
}

func (o *object) Read(p []byte) (n int, err error) {
	if o.at >= o.size {
		return 0, io.EOF
	}
	if len(p) == 0 {
		return 0, nil
	}
	for try := 1; ; try++ {
		if err = o.request(); err != nil {
			return 0, err
		}
		n, err = o.body.Read(p)
		o.at += int64(n)
		if n > 0 || err == nil {
			return n, nil // what broke it is met by the next read
		}
		o.Close()
		if try == tries {
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			return 0, o.b.away(err)
		}
	}
}

// request asks for the bytes from where the reader stands, of the very object that was
// opened.
func (o *object) request() error {
	if o.body != nil {
		return nil
	}
	var opts minio.GetObjectOptions
	if o.at > 0 {
		if err := opts.SetRange(o.at, 0); err != nil {
			return err
		}
	}
	if o.etag != "" {
		if err := opts.SetMatchETag(o.etag); err != nil {
			return err
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	body, _, _, err := o.b.core.GetObject(ctx, o.b.Bucket, o.key, opts)
	if err != nil {
		cancel()
		return o.b.away(err)
	}
	o.body, o.cancel = body, cancel
	return nil
}

func (o *object) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += o.at
	case io.SeekEnd:
		offset += o.size
	}
	if offset < 0 {
		return 0, errors.New("originals: a position before the first byte")
	}
	if offset != o.at {
		o.Close()
		o.at = offset
	}
	return offset, nil
}

func (o *object) Close() error {
	if o.body == nil {
		return nil
	}
	o.cancel()
	err := o.body.Close()
	o.body = nil
	return err
}

func code(err error) string {
	if err == nil {
		return ""
	}
	return minio.ToErrorResponse(err).Code
}

// away says in words why the bucket did not do what was asked; nil stays nil.
func (b *Bucket) away(err error) error {
	if err == nil {
		return nil
	}
	f := fault.New(fault.Unavailable, "the bucket of originals does not answer").WithHint("try again; see with pawl doctor that it can be reached").WithCause(err)
	switch code(err) {
	case minio.NoSuchBucket:
		f.Message, f.Hint = "there is no bucket "+b.Bucket+" on the server", "make it, or see that AWS_ENDPOINT_URL_S3 names the right server"
	case minio.AccessDenied, "InvalidAccessKeyId", "SignatureDoesNotMatch", "ExpiredToken", "InvalidTokenId":
		f.Message, f.Hint = "the bucket of originals does not let us in", "see that the credentials in the environment are good, and may read, write, list and remove in it"
	case "RequestTimeTooSkewed":
		f.Message, f.Hint = "the bucket of originals finds that the clock of this computer is wrong", "set the clock"
	case minio.PreconditionFailed:
		f.Message, f.Hint = "an original was put anew while it was read", "see with pawl verify whether the bucket is changed by others"
	}
	return f
}
