package stamp

import (
	"bytes"
	"crypto"
	"crypto/sha1"
	"crypto/sha256"
	"crypto/x509"
	"encoding/asn1"
	"fmt"
	"math/big"
	"time"

	"github.com/digitorus/pkcs7"
	"github.com/digitorus/timestamp"

	"pawl/model/fault"
)

// Stamped is what a time stamp says that was checked.
type Stamped struct {
	At        time.Time // when the bytes existed, at the latest
	Accuracy  time.Duration
	Authority string // the subject of its certificate
	Nonce     *big.Int

	signer *x509.Certificate
	others []*x509.Certificate
}

// Check holds an answer of an authority to the SHA-256 that it should be of: its
// status, its signature, its certificate's purpose, and with roots the chain of
// that certificate as it stood at the time given; the zero time is that of the
// stamp itself. A refusal says what does not hold.
func Check(answer []byte, digest [sha256.Size]byte, roots *x509.CertPool, at time.Time) (Stamped, error) {
	s, err := parse(answer, digest)
	if err != nil || roots == nil {
		return s, err
	}
	if at.IsZero() {
		at = s.At
	}
	return s, s.chain(roots, at)
}

// Object identifiers of RFC 5652 section 11.1, RFC 3161 section 2.4.2, RFC 2634
// section 5.4, RFC 5035 section 3 and RFC 5280 section 4.2.1.12.
var (
	contentType  = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 3}
	stampInfo    = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 1, 4}
	signerByV1   = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 2, 12}
	signerByV2   = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 2, 47}
	keyPurposes  = asn1.ObjectIdentifier{2, 5, 29, 37}
	stampPurpose = asn1.ObjectIdentifier{1, 3, 6, 1, 5, 5, 7, 3, 8}
	hashSHA256   = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 1}
	hashSHA384   = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 2}
	hashSHA512   = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 3}
)

// parse reads an answer and checks all of it but the nonce and the chain.
func parse(answer []byte, digest [sha256.Size]byte) (s Stamped, err error) {
	defer func() {
		if p := recover(); p != nil { // the reader of signed data was not made for strangers' bytes
			err = invalid("the answer cannot be read").WithCause(fmt.Errorf("panic: %v", p))
		}
	}()
	if len(answer) > MaxAnswer {
		return s, fault.New(fault.TooLarge, "a time stamp of %d bytes; %d are read", len(answer), MaxAnswer)
	}
	t, err := timestamp.ParseResponse(answer)
	if err != nil {
		return s, invalid("the answer is refused: %.300s", err).WithCause(err)
	}
	if t.HashAlgorithm != crypto.SHA256 || !bytes.Equal(t.HashedMessage, digest[:]) {
		return s, invalid("the time stamp is of other bytes: it says %x, these have the SHA-256 %x", t.HashedMessage, digest)
	}
	signed, err := pkcs7.Parse(t.RawToken)
	if err != nil {
		return s, invalid("the signature cannot be read").WithCause(err)
	}
	signer := signed.GetOnlySigner()
	if signer == nil {
		return s, invalid("the certificate that signed is not in the answer, or there are several")
	}
	// The library leaves the signature alone where there is no certificate.
	if err := signed.Verify(); err != nil {
		return s, invalid("the signature does not hold: %.200s", err).WithCause(err)
	}
	if err := bound(signed, signer); err != nil {
		return s, err
	}
	if err := forStamping(signer); err != nil {
		return s, err
	}
	if t.Time.Before(signer.NotBefore) || t.Time.After(signer.NotAfter) {
		return s, invalid("it says %s, when the certificate of the authority was not valid", t.Time.UTC().Format(time.RFC3339))
	}
	return Stamped{At: t.Time.UTC(), Accuracy: t.Accuracy, Authority: signer.Subject.String(), Nonce: t.Nonce, signer: signer, others: signed.Certificates}, nil
}

// bound says whether what was signed is a time stamp, by this certificate and no
// other with the same key.
func bound(signed *pkcs7.PKCS7, signer *x509.Certificate) error {
	var kind asn1.ObjectIdentifier
	if err := signed.UnmarshalSignedAttribute(contentType, &kind); err != nil || !kind.Equal(stampInfo) {
		return invalid("what was signed is no time stamp").WithCause(err)
	}
	raw, newer := asn1.RawValue{}, true
	if err := signed.UnmarshalSignedAttribute(signerByV2, &raw); err != nil {
		newer = false
		if err := signed.UnmarshalSignedAttribute(signerByV1, &raw); err != nil {
			return invalid("it does not say which certificate signed it").WithCause(err)
		}
	}
	want, got, err := certHash(raw.FullBytes, newer, signer.Raw)
	if err != nil || !bytes.Equal(want, got) {
		return invalid("it says that another certificate signed it").WithCause(err)
	}
	return nil
}

// certHash reads the hash of the first certificate of a SigningCertificate (v1,
// SHA-1) or SigningCertificateV2, and makes that of the certificate at hand.
func certHash(der []byte, newer bool, cert []byte) (want, got []byte, err error) {
	var list struct {
		Certs    []asn1.RawValue
		Policies asn1.RawValue `asn1:"optional"`
	}
	if _, err := asn1.Unmarshal(der, &list); err != nil || len(list.Certs) == 0 {
		return nil, nil, fmt.Errorf("no certificate is named: %w", err)
	}
	rest := list.Certs[0].Bytes
	algorithm := hashSHA256 // RFC 5035 section 4
	if newer && len(rest) > 0 && rest[0] == 0x30 {
		var named struct {
			Algorithm  asn1.ObjectIdentifier
			Parameters asn1.RawValue `asn1:"optional"`
		}
		if rest, err = asn1.Unmarshal(rest, &named); err != nil {
			return nil, nil, err
		}
		algorithm = named.Algorithm
	}
	if _, err := asn1.Unmarshal(rest, &want); err != nil {
		return nil, nil, err
	}
	hash := crypto.Hash(0)
	switch {
	case !newer:
		sum := sha1.Sum(cert) // RFC 2634 knows no other; the signature itself does not rest on it
		return want, sum[:], nil
	case algorithm.Equal(hashSHA256):
		hash = crypto.SHA256
	case algorithm.Equal(hashSHA384):
		hash = crypto.SHA384
	case algorithm.Equal(hashSHA512):
		hash = crypto.SHA512
	default:
		return nil, nil, fmt.Errorf("hash %s", algorithm)
	}
	h := hash.New()
	h.Write(cert)
	return want, h.Sum(nil), nil
}

// forStamping says whether the certificate is for time stamps and nothing else,
// and says so critically (RFC 3161 section 2.3).
func forStamping(c *x509.Certificate) error {
	for _, e := range c.Extensions {
		if !e.Id.Equal(keyPurposes) {
			continue
		}
		var purposes []asn1.ObjectIdentifier
		if rest, err := asn1.Unmarshal(e.Value, &purposes); err == nil && len(rest) == 0 && e.Critical && len(purposes) == 1 && purposes[0].Equal(stampPurpose) {
			return nil
		}
	}
	return invalid("the certificate of %.100q is not for time stamps alone", c.Subject.String())
}

// chain follows the certificate to the roots, as all of it stood at a time.
func (s Stamped) chain(roots *x509.CertPool, at time.Time) error {
	between := x509.NewCertPool()
	for _, c := range s.others {
		between.AddCert(c)
	}
	_, err := s.signer.Verify(x509.VerifyOptions{Roots: roots, Intermediates: between, CurrentTime: at, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageTimeStamping}})
	if err != nil {
		return invalid("the certificate of %.100q does not lead to the authorities given, as of %s: %.200s", s.Authority, at.UTC().Format(time.RFC3339), err).WithCause(err)
	}
	return nil
}

func invalid(format string, args ...any) *fault.Error {
	return fault.New(fault.Invalid, format, args...)
}
