package cli

import (
	"bufio"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"image"
	"image/color"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"pawl/api/wire"
	"pawl/model/fault"
)

// certificate makes one for tools.example and 127.0.0.1, signed by itself.
func certificate(t *testing.T) (cert, key string, roots *x509.CertPool) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	of := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour),
		DNSNames: []string{"tools.example"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, of, of, private.Public(), private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(t.TempDir(), "tools.crt"), filepath.Join(t.TempDir(), "tools.key")
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	for name, text := range map[string][]byte{cert: text, key: pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})} {
		if err := os.WriteFile(name, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	roots = x509.NewCertPool()
	roots.AppendCertsFromPEM(text)
	return cert, key, roots
}

// serving serves a new shop until the test ends, and gives what it printed up to
// the QR code.
func startServing(t *testing.T, typed ...string) (listening, link string) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	read, write := io.Pipe()
	ended := make(chan error, 1)
	words := append([]string{"--data", filepath.Join(t.TempDir(), "shop"), "serve", "--listen", "127.0.0.1:0"}, typed...)
	go func() {
		p := &program{in: strings.NewReader(""), out: io.Discard, err: write}
		err := p.run(ctx, words)
		write.Close()
		ended <- err
	}()
	lines := bufio.NewScanner(read)
	for link == "" && lines.Scan() {
		if at, found := strings.CutPrefix(lines.Text(), "listening on "); found {
			listening = at
		}
		if strings.Contains(lines.Text(), "/enter/") {
			link = lines.Text()
		}
	}
	go io.Copy(io.Discard, read)
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Errorf("it ended with %v", err)
		}
	})
	return listening, link
}

// Over HTTPS the first link leads to the name in the certificate, the cookie is
// bound to the host and Secure, and HSTS lasts a year (OWASP ASVS 5.0 3.3.1,
// 3.3.3, 3.4.1).
func TestServeHTTPS(t *testing.T) {
	cert, key, roots := certificate(t)
	listening, link := startServing(t, "--tls-cert", cert, "--tls-key", key)
	if !regexp.MustCompile(`^https://tools\.example:[0-9]+/enter/[A-Za-z0-9_-]{22}$`).MatchString(link) {
		t.Fatalf("listening on %q, the link is %q", listening, link)
	}
	c := http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
	defer c.CloseIdleConnections()
	_, secret, _ := strings.Cut(link, "/enter/")
	answer, err := c.Post(listening+"/api/v1/enrolments/"+secret+"/enter", "application/json", strings.NewReader(`{"device":"phone","name":"Boss"}`))
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusCreated || answer.Header.Get("Strict-Transport-Security") != "max-age=31536000; includeSubDomains" {
		t.Errorf("%s %v", answer.Status, answer.Header)
	}
	cookie := answer.Header.Get("Set-Cookie")
	if !strings.HasPrefix(cookie, "__Host-pawl=") || !strings.HasSuffix(cookie, "; Path=/; Max-Age=34560000; HttpOnly; Secure; SameSite=Lax") {
		t.Errorf("the cookie is %s", cookie)
	}
}

// A proxy that was named tells who asks and how; nobody else is believed.
func TestServeBehindAProxy(t *testing.T) {
	for proxy, safe := range map[string]bool{"127.0.0.1": true, "127.0.0.0/8": true, "10.0.0.1": false} {
		listening, _ := startServing(t, "--proxy", proxy)
		r, err := http.NewRequest(http.MethodGet, listening+"/livez", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("X-Forwarded-Proto", "https")
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if got := answer.Header.Get("Strict-Transport-Security") != ""; got != safe {
			t.Errorf("--proxy %s: taken for HTTPS: %v", proxy, got)
		}
	}
}

func TestNetworkOf(t *testing.T) {
	for text, want := range map[string]string{"127.0.0.1": "127.0.0.1/32", "172.17.0.9/16": "172.17.0.0/16", "fd00::1": "fd00::1/128", "::ffff:10.0.0.1": "10.0.0.1/32"} {
		if got, err := networkOf(text); err != nil || len(got) != 1 || got[0] != netip.MustParsePrefix(want) {
			t.Errorf("%s: %v, %v; want %s", text, got, err, want)
		}
	}
	for _, text := range []string{"", "proxy.example", "10.0.0.1:80", "10.0.0.0/33"} {
		if got, err := networkOf(text); !fault.Is(err, fault.Malformed) {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
}

func TestSiteOf(t *testing.T) {
	for _, c := range []struct{ at, listening, reached string }{
		{"127.0.0.1:8080", "http://127.0.0.1:8080", "http://127.0.0.1:8080"},
		{"192.168.1.5:80", "http://192.168.1.5:80", "http://192.168.1.5:80"},
		{"[fd00::1]:8080", "http://[fd00::1]:8080", "http://[fd00::1]:8080"},
	} {
		got := siteOf(net.TCPAddrFromAddrPort(netip.MustParseAddrPort(c.at)), nil)
		if got.listening != c.listening || got.reached != c.reached {
			t.Errorf("%s: %+v", c.at, got)
		}
	}
	every := siteOf(net.TCPAddrFromAddrPort(netip.MustParseAddrPort("0.0.0.0:8080")), nil)
	if every.listening != "http://0.0.0.0:8080" || strings.Contains(every.reached, "0.0.0.0") || !strings.HasSuffix(every.reached, ":8080") {
		t.Errorf("%+v", every)
	}
}

// The code in the terminal reads as the link: by gozxing, off the half blocks as
// a dark terminal shows them.
func TestQRTextReads(t *testing.T) {
	const link = "https://tools.example:8443/enter/V9R2ukGpRakkCJdOoUMGlg"
	for _, color := range []bool{false, true} {
		text, err := qrText(link, color)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(text, "\x1b[97;40m") != color {
			t.Errorf("color %v: %q", color, text[:40])
		}
		text = regexp.MustCompile("\x1b\\[[0-9;]*m").ReplaceAllString(text, "")
		source := gozxing.NewLuminanceSourceFromImage(halfBlocks(text))
		bits, err := gozxing.NewBinaryBitmap(gozxing.NewHybridBinarizer(source))
		if err != nil {
			t.Fatal(err)
		}
		read, err := qrcode.NewQRCodeReader().Decode(bits, nil)
		if err != nil || read.GetText() != link {
			t.Errorf("it reads as %v, %v", read, err)
		}
	}
}

// halfBlocks draws characters of half blocks, light on dark, 8 pixels a module.
func halfBlocks(text string) image.Image {
	const side = 8
	lines := strings.Split(text, "\n")
	m := image.NewGray(image.Rect(0, 0, len([]rune(lines[0]))*side, len(lines)*2*side))
	for y, l := range lines {
		for x, r := range []rune(l) {
			for half, light := range []bool{r == '█' || r == '▀', r == '█' || r == '▄'} {
				for i := range side * side {
					if light {
						m.SetGray(x*side+i%side, (2*y+half)*side+i/side, color.Gray{Y: 255})
					}
				}
			}
		}
	}
	return m
}

func TestDeviceNamed(t *testing.T) {
	all := []wire.Device{{ID: "D-1", Name: "phone", InForce: true}, {ID: "D-2", Name: "Phone"}, {ID: "D-3", Name: "pad", InForce: true}, {ID: "D-4", Name: "PAD", InForce: true}}
	for device, want := range map[string]string{"d-2": "D-2", "PHONE": "D-1", "D-3": "D-3"} {
		if got, err := deviceNamed(all, device); err != nil || got != want {
			t.Errorf("%s: %s, %v", device, got, err)
		}
	}
	for device, kind := range map[string]fault.Kind{"pad": fault.Conflict, "board": fault.NotFound, "": fault.NotFound} {
		if got, err := deviceNamed(all, device); !fault.Is(err, kind) {
			t.Errorf("%q: %s, %v", device, got, err)
		}
	}
}
