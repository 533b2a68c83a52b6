package model

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// certificate makes a self-signed one that is good for that long from a time.
func certificate(t *testing.T, from time.Time, good time.Duration) []byte {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	der, err := x509.CreateCertificate(rand.Reader, &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: from, NotAfter: from.Add(good)},
		&x509.Certificate{SerialNumber: big.NewInt(1)}, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
}

// Each thing that can be out of order is found, and only then.
func TestDoctor(t *testing.T) {
	const day = 24 * time.Hour
	cases := []struct {
		name  string
		spoil func(t *testing.T, g *garage) DoctorQuery
		what  string
		want  Health
		says  string
	}{
		{"all as it should be", func(t *testing.T, g *garage) DoctorQuery {
			return DoctorQuery{Certificate: certificate(t, g.Now(), 90*day)}
		}, "", InOrder, ""},
		{"nothing was asked of a certificate", func(*testing.T, *garage) DoctorQuery { return DoctorQuery{} }, "certificate", NotChecked, "none"},
		{"a certificate that runs out soon", func(t *testing.T, g *garage) DoctorQuery {
			return DoctorQuery{Certificate: certificate(t, g.Now(), 10*day)}
		}, "certificate", LookAt, "good until"},
		{"a certificate that ran out", func(t *testing.T, g *garage) DoctorQuery {
			return DoctorQuery{Certificate: certificate(t, g.Now().Add(-20*day), 10*day)}
		}, "certificate", NotInOrder, "good until"},
		{"a certificate of tomorrow", func(t *testing.T, g *garage) DoctorQuery {
			return DoctorQuery{Certificate: certificate(t, g.Now().Add(day), 90*day)}
		}, "certificate", NotInOrder, "good until"},
		{"no certificate at all", func(*testing.T, *garage) DoctorQuery { return DoctorQuery{Certificate: []byte("hello")} }, "certificate", NotInOrder, "PEM"},
		{"a backup of last month", func(t *testing.T, g *garage) DoctorQuery {
			g.clock.advance(8 * day)
			return DoctorQuery{}
		}, "backup", LookAt, "2026-10-30"},
		{"no backup", func(t *testing.T, g *garage) DoctorQuery {
			must(t, os.Remove(filepath.Join(g.Dir, lastBackup)))
			return DoctorQuery{}
		}, "backup", LookAt, "none"},
		{"no copy kept elsewhere for a month", func(t *testing.T, g *garage) DoctorQuery {
			g.clock.advance(31 * day)
			g.backupTo(t, filepath.Join(t.TempDir(), "again"))
			return DoctorQuery{}
		}, "copy elsewhere", LookAt, "2026-10-30"},
		{"an original that is gone", func(t *testing.T, g *garage) DoctorQuery {
			spoilOriginal(t, g, os.Remove)
			return DoctorQuery{}
		}, "originals", NotInOrder, "1 of 2 "},
		{"an original that was cut short", func(t *testing.T, g *garage) DoctorQuery {
			spoilOriginal(t, g, func(path string) error { return os.Truncate(path, 10) })
			return DoctorQuery{}
		}, "originals", NotInOrder, "1 of 2 "},
		{"an original that was swapped for another of its length", func(t *testing.T, g *garage) DoctorQuery {
			spoilOriginal(t, g, func(path string) error {
				was, err := os.ReadFile(path)
				must(t, err)
				return os.WriteFile(path, bytes.Repeat([]byte{'x'}, len(was)), 0o600)
			})
			return DoctorQuery{}
		}, "bytes of originals", NotInOrder, "1 of 2 "},
		{"no checkpoint for days, with new lines", func(t *testing.T, g *garage) DoctorQuery {
			g.tool(t)
			g.clock.advance(3 * day)
			return DoctorQuery{}
		}, "checkpoint", LookAt, "2026-10-30"},
		{"the clock went back", func(t *testing.T, g *garage) DoctorQuery {
			g.clock.advance(-time.Hour)
			return DoctorQuery{}
		}, "clock", NotInOrder, "2026-10-30"},
		{"no signing key", func(t *testing.T, g *garage) DoctorQuery {
			key := filepath.Join(g.Dir, "keys", keyFile)
			text, err := os.ReadFile(key)
			must(t, err)
			must(t, os.Remove(key))
			t.Cleanup(func() { must(t, os.WriteFile(key, text, 0o600)) })
			return DoctorQuery{}
		}, "signing key", NotInOrder, "keys"},
		{"the key of another shop", func(t *testing.T, g *garage) DoctorQuery {
			key := filepath.Join(g.Dir, "keys", keyFile)
			text, err := os.ReadFile(key)
			must(t, err)
			other := emptyGarage(t, "sqlite")
			theirs, err := os.ReadFile(filepath.Join(other.Dir, "keys", keyFile))
			must(t, err)
			must(t, os.WriteFile(key, theirs, 0o600))
			t.Cleanup(func() { must(t, os.WriteFile(key, text, 0o600)) })
			return DoctorQuery{}
		}, "signing key", NotInOrder, ""},
		{"a key that others may read", func(t *testing.T, g *garage) DoctorQuery {
			must(t, os.Chmod(filepath.Join(g.Dir, "keys", keyFile), 0o644))
			return DoctorQuery{}
		}, "rights", LookAt, "key"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			g := openGarage(t, "sqlite")
			must(t, os.Chmod(g.Dir, 0o700))
			number := g.tool(t)
			g.photograph(t, number, 1)
			g.photograph(t, number, 2)
			g.keptElsewhere(t, g.boss)
			if _, err := g.Checkpoint(ctx, g.boss); err != nil {
				t.Fatal(err)
			}
			g.backupTo(t, filepath.Join(t.TempDir(), "backup"))
			d, err := g.Doctor(ctx, g.boss, c.spoil(t, g))
			if err != nil {
				t.Fatal(err)
			}
			if d.OK != (c.want == InOrder || c.want == NotChecked) || len(d.Checkups) != 11 {
				t.Errorf("in order: %v, %d things, want %s", d.OK, len(d.Checkups), c.want)
			}
			for _, each := range d.Checkups {
				want := InOrder
				if each.What == c.what {
					want = c.want
				} else if each.What == "certificate" && c.what != "" {
					want = NotChecked
				}
				if each.Health != want || each.What == c.what && !strings.Contains(each.Says, c.says) || (each.Do == "") != (want == InOrder || want == NotChecked) {
					t.Errorf("%+v, want %s that says %q", each, want, c.says)
				}
			}
		})
	}
}

// spoilOriginal does something to one of the shop's originals, and brings it back when
// the test ends.
func spoilOriginal(t *testing.T, g *garage, spoil func(path string) error) {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(g.Dir, "originals", "??", "*"))
	if err != nil || len(all) == 0 {
		t.Fatalf("no originals: %v", err)
	}
	was, err := os.ReadFile(all[0])
	must(t, err)
	must(t, os.Chmod(all[0], 0o600))
	must(t, spoil(all[0]))
	t.Cleanup(func() { must(t, os.WriteFile(all[0], was, 0o600)) })
}

func TestDoctorOnPostgres(t *testing.T) {
	g := openGarage(t, "postgres")
	d, err := g.Doctor(ctx, g.boss, DoctorQuery{})
	if err != nil || d.Checkups[0].Health != InOrder || !strings.Contains(d.Checkups[0].Says, "fsync on") {
		t.Errorf("%+v, %v", d.Checkups, err)
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
