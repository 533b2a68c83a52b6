// Package stamp asks a time-stamp authority to date bytes, and checks what it
// answered (RFC 3161). Only a hash goes to the authority. A time stamp shows that
// the bytes existed no later than it says; it does not show who made them.
//
// What is kept is the whole answer, as openssl ts -verify -in takes it.
package stamp

import (
	"bytes"
	"context"
	"crypto"
	"crypto/sha256"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"io"
	"math/big"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/digitorus/timestamp"

	"pawl/model/fault"
)

// MaxAnswer bounds what is read of an authority's answer, in bytes.
const MaxAnswer = 256 << 10

// Patience is how long an authority may take: what it dates is made without it.
const Patience = 10 * time.Second

// Authority is a time-stamp authority, and the way to it.
type Authority struct {
	URL       string
	Roots     *x509.CertPool    // what its certificate must lead to; nil: the chain is not checked
	Transport http.RoundTripper // the only way out
	Chance    io.Reader         // of nonces
}

// CheckURL takes the address of an authority.
func CheckURL(text string) error {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || u.User != nil || u.Fragment != "" {
		return fault.New(fault.Invalid, "%.200q is not the address of a time-stamp authority", text).
			WithHint("it begins with https:// or http:// and holds no name and password").WithCause(err)
	}
	return nil
}

// ParseRoots reads certificates in PEM to which chains must lead. Text between them is
// passed over; a block that is no certificate, or cannot be read, is refused and named by
// its place: a chain to it would be found not to hold, and nobody would know why.
func ParseRoots(text string) (*x509.CertPool, error) {
	pool, found := x509.NewCertPool(), 0
	for rest := []byte(text); ; {
		block, after := pem.Decode(rest)
		if block == nil {
			if bytes.Contains(rest, []byte(pemBegins)) {
				return nil, badRoot(found+1, fault.New(fault.Invalid, "it is cut off, or not PEM"))
			}
			break
		}
		if between := rest[:len(rest)-len(after)]; bytes.Count(between, []byte(pemBegins)) > 1 {
			return nil, badRoot(found+1, fault.New(fault.Invalid, "it is cut off, or not PEM"))
		}
		found, rest = found+1, after
		if block.Type != "CERTIFICATE" || len(block.Headers) > 0 {
			return nil, badRoot(found, fault.New(fault.Invalid, "it is %.40q and no plain certificate", block.Type))
		}
		root, err := x509.ParseCertificate(block.Bytes)
		if err != nil {
			return nil, badRoot(found, err)
		}
		pool.AddCert(root)
	}
	if found == 0 {
		return nil, fault.New(fault.Invalid, "there is no certificate of an authority in it").
			WithHint("give a file in PEM, which begins with -----BEGIN CERTIFICATE-----")
	}
	return pool, nil
}

// pemBegins is how a block of PEM begins (RFC 7468 section 2).
const pemBegins = "-----BEGIN "

func badRoot(n int, why error) error {
	return fault.New(fault.Invalid, "certificate %d of the authorities cannot be used: %.200s", n, why).
		WithHint("give certificates in PEM alone, each from -----BEGIN CERTIFICATE----- to its end").WithCause(why)
}

// Stamp has a SHA-256 dated. It gives the answer as it came, checked, and the
// time in it. What fails is Unavailable, whatever it was: nothing else waits for
// a time stamp.
func Stamp(ctx context.Context, a Authority, digest [sha256.Size]byte) (answer []byte, at time.Time, err error) {
	nonce := make([]byte, 16)
	if _, err := io.ReadFull(a.Chance, nonce); err != nil {
		return nil, at, unstamped(a, err)
	}
	nonce[0] = nonce[0]&0x7f | 0x40 // of one length, and positive
	request := timestamp.Request{HashAlgorithm: crypto.SHA256, HashedMessage: digest[:], Certificates: true, Nonce: new(big.Int).SetBytes(nonce)}
	query, err := request.Marshal()
	if err != nil {
		return nil, at, unstamped(a, err)
	}
	if answer, err = a.ask(ctx, query); err != nil {
		return nil, at, unstamped(a, err)
	}
	stamped, err := parse(answer, digest)
	if err != nil {
		return nil, at, unstamped(a, err)
	}
	if stamped.Nonce == nil || stamped.Nonce.Cmp(request.Nonce) != 0 {
		return nil, at, unstamped(a, fault.New(fault.Invalid, "the answer is to another question: its nonce is not the one that was sent"))
	}
	if a.Roots != nil {
		if err := stamped.chain(a.Roots, stamped.At); err != nil {
			return nil, at, unstamped(a, err)
		}
	}
	return answer, stamped.At, nil
}

// unstamped says why there is no time stamp.
func unstamped(a Authority, err error) error {
	host := a.URL
	if u, bad := url.Parse(a.URL); bad == nil && u.Host != "" {
		host = u.Host
	}
	why := err.Error()
	var op *net.OpError
	if errors.As(err, &op) && op.Err != nil {
		why = op.Op + ": " + op.Err.Error() // the port on this side, another each time, is no part of why
	}
	if f := fault.Of(err); f != nil && f.Kind != fault.Internal {
		why = f.Message
	}
	if errors.Is(err, context.DeadlineExceeded) {
		why = "it did not answer in time"
	}
	return fault.New(fault.Unavailable, "no time stamp from %s: %s", host, why).WithHint("all else was done without it; try again later").WithCause(err)
}

// ask sends a request (RFC 3161 section 3.4) and follows no redirection.
func (a Authority) ask(ctx context.Context, query []byte) ([]byte, error) {
	if a.Transport == nil {
		return nil, errors.New("there is no way to it from here")
	}
	ctx, cancel := context.WithTimeout(ctx, Patience)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, a.URL, bytes.NewReader(query))
	if err != nil {
		return nil, err
	}
	r.Header.Set("Content-Type", "application/timestamp-query")
	r.Header.Set("Accept", "application/timestamp-reply")
	got, err := a.Transport.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	defer got.Body.Close()
	kind, _, _ := mime.ParseMediaType(got.Header.Get("Content-Type"))
	if got.StatusCode != http.StatusOK || !strings.EqualFold(kind, "application/timestamp-reply") {
		return nil, fault.New(fault.Invalid, "it answered with status %d and %.60q, which is no time stamp", got.StatusCode, kind)
	}
	answer, err := io.ReadAll(io.LimitReader(got.Body, MaxAnswer+1))
	if err == nil && len(answer) > MaxAnswer {
		err = fault.New(fault.TooLarge, "its answer is over %d bytes", MaxAnswer)
	}
	return answer, err
}
