// Package tsatest runs a time-stamp authority on this computer, for tests.
package tsatest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"encoding/pem"
	"io"
	"math/big"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pawl/model/needs"
)

// Object identifiers of RFC 5280 section 4.2.1.12.
var (
	keyPurposes  = asn1.ObjectIdentifier{2, 5, 29, 37}
	stampPurpose = asn1.ObjectIdentifier{1, 3, 6, 1, 5, 5, 7, 3, 8}
	serverAuth   = asn1.ObjectIdentifier{1, 3, 6, 1, 5, 5, 7, 3, 1}
)

// Authority is a time-stamp authority on this computer: openssl ts behind HTTP,
// as in its own manual (openssl-ts(1), "CONFIGURATION FILE OPTIONS").
type Authority struct {
	Dir   string
	Roots *x509.CertPool
	Cert  *x509.Certificate
	Key   *ecdsa.PrivateKey
	Spoil func(query []byte) (other []byte) // what it is asked instead
	*httptest.Server
}

const configuration = `[tsa]
default_tsa = tsa1
[tsa1]
serial = DIR/serial
signer_digest = sha256
default_policy = 1.3.6.1.4.1.99999.1
digests = sha256,sha384,sha512
accuracy = secs:1,millisecs:500,microsecs:100
ordering = yes
tsa_name = yes
ess_cert_id_alg = sha256
`

// New starts one whose certificate is valid from then to then, for these purposes.
func New(t testing.TB, valid [2]time.Time, purposes ...x509.ExtKeyUsage) *Authority {
	t.Helper()
	needs.Program(t, "openssl")
	a := &Authority{Dir: t.TempDir(), Roots: x509.NewCertPool()}
	rootKey := newKey(t)
	root := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "Invented Root"}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageCertSign, NotBefore: valid[0].AddDate(-5, 0, 0), NotAfter: valid[1].AddDate(5, 0, 0)}
	rootCert := signed(t, root, root, rootKey, rootKey)
	a.Roots.AddCert(rootCert)
	a.Key = newKey(t)
	leaf := &x509.Certificate{SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: "Invented Authority"}, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature, NotBefore: valid[0], NotAfter: valid[1], ExtraExtensions: []pkix.Extension{purpose(t, purposes...)}}
	a.Cert = signed(t, leaf, rootCert, a.Key, rootKey)
	keyDER, err := x509.MarshalECPrivateKey(a.Key)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"root.pem": encode("CERTIFICATE", rootCert.Raw), "tsa.pem": encode("CERTIFICATE", a.Cert.Raw), "tsa.key": encode("EC PRIVATE KEY", keyDER),
		"serial": "01\n", "ts.cnf": strings.ReplaceAll(configuration, "DIR", a.Dir),
	} {
		if err := os.WriteFile(filepath.Join(a.Dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	a.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		query, err := io.ReadAll(r.Body)
		if err != nil || r.Header.Get("Content-Type") != "application/timestamp-query" {
			http.Error(w, "no query", http.StatusBadRequest)
			return
		}
		if a.Spoil != nil {
			query = a.Spoil(query)
		}
		w.Header().Set("Content-Type", "application/timestamp-reply")
		w.Write(a.reply(t, query))
	}))
	t.Cleanup(a.Close)
	return a
}

func newKey(t testing.TB) *ecdsa.PrivateKey {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func signed(t testing.TB, c, by *x509.Certificate, key, byKey *ecdsa.PrivateKey) *x509.Certificate {
	t.Helper()
	der, err := x509.CreateCertificate(rand.Reader, c, by, &key.PublicKey, byKey)
	if err != nil {
		t.Fatal(err)
	}
	out, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// purpose is a critical extension of key purposes.
func purpose(t testing.TB, all ...x509.ExtKeyUsage) pkix.Extension {
	t.Helper()
	var ids []asn1.ObjectIdentifier
	for _, p := range all {
		ids = append(ids, map[x509.ExtKeyUsage]asn1.ObjectIdentifier{x509.ExtKeyUsageTimeStamping: stampPurpose,
			x509.ExtKeyUsageServerAuth: serverAuth}[p])
	}
	value, err := asn1.Marshal(ids)
	if err != nil {
		t.Fatal(err)
	}
	return pkix.Extension{Id: keyPurposes, Critical: true, Value: value}
}

func encode(kind string, der []byte) string {
	return string(pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}))
}

// OpenSSL runs it in the authority's folder.
func (a *Authority) OpenSSL(t testing.TB, args ...string) ([]byte, error) {
	t.Helper()
	run := exec.Command("openssl", args...)
	run.Dir = a.Dir
	return run.CombinedOutput()
}

// reply has openssl answer a query.
func (a *Authority) reply(t testing.TB, query []byte) []byte {
	t.Helper()
	if err := os.WriteFile(filepath.Join(a.Dir, "query"), query, 0o600); err != nil {
		t.Error(err)
	}
	if said, err := a.OpenSSL(t, "ts", "-reply", "-config", "ts.cnf", "-section", "tsa1", "-queryfile", "query", "-signer", "tsa.pem", "-inkey", "tsa.key", "-out", "answer"); err != nil {
		t.Errorf("%v: %s", err, said)
	}
	answer, err := os.ReadFile(filepath.Join(a.Dir, "answer"))
	if err != nil {
		t.Error(err)
	}
	return answer
}

// PEM gives the certificate to which the authority's leads.
func (a *Authority) PEM(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(a.Dir, "root.pem"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
