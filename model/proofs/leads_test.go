package proofs

import (
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/ledger"
	"pawl/model/needs"
)

// The eight leaves of transparency-dev/merkle's testdata, and the roots over the first n of
// them as published there (RFC 6962 section 2.1).
var (
	publishedLeaves = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	publishedRoots  = []string{"",
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d", "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77", "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4", "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c", "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"}
)

// What HOW-TO-CHECK.txt has somebody type leads from every published root to every later
// one, and to none by a path that was altered, cut, lengthened or of other sizes.
func TestTheTypedConsistency(t *testing.T) {
	needs.Programs(t, "sh", "openssl", "sha256sum", "xxd")
	k := &kept{}
	for i, leaf := range publishedLeaves {
		data, err := hex.DecodeString(leaf)
		if err != nil {
			t.Fatal(err)
		}
		hashes, err := tlog.StoredHashes(int64(i), data, k)
		if err != nil {
			t.Fatal(err)
		}
		k.hashes = append(k.hashes, hashes...)
	}
	script, want := functions(t, "sha()", "hexed()", "leads()"), []string{}
	ask := func(old, size int, root string, path []string, is bool) {
		script += fmt.Sprintf("leads %d %d %s %s\n", old, size, root, strings.Join(path, " "))
		want = append(want, fmt.Sprint(is, " ", publishedRoots[old], " ", publishedRoots[size]))
	}
	from := map[bool]int{true: 2, false: 8}[os.Getenv("PAWL_SIZE") == "full"] // each step starts a dozen programs
	for size := from; size <= 8; size++ {
		for old := 1; old < size; old++ {
			if from == 8 && old != 3 && old != 4 && old != 6 {
				continue
			}
			p, err := ledger.ProveConsistency(int64(old), int64(size), k)
			if err != nil {
				t.Fatal(err)
			}
			ask(old, size, publishedRoots[old], encoded(p.Hashes), true)
			if old != 3 {
				continue
			}
			other := base64.StdEncoding.EncodeToString(make([]byte, 32))
			path := encoded(p.Hashes)
			ask(old, size, publishedRoots[old], append(path[:len(path)-1:len(path)-1], other), false)
			ask(old, size, publishedRoots[old], path[:len(path)-1], false)
			ask(old, size, publishedRoots[old], append(path[:len(path):len(path)], other), false)
		}
	}
	// MT-12 of the published vectors: 3 to 8, by hand.
	raw, err := hex.DecodeString("0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7")
	if p, perr := ledger.ProveConsistency(3, 8, k); err != nil || perr != nil || len(p.Hashes) != 4 || p.Hashes[0] != tlog.Hash(raw) {
		t.Errorf("3 to 8: %+v %v %v", p, err, perr)
	}
	c := exec.Command("sh")
	c.Stdin = strings.NewReader(script)
	said, err := c.CombinedOutput()
	rows := strings.Split(strings.TrimRight(string(said), "\n"), "\n")
	if err != nil || len(rows) != len(want) {
		t.Fatalf("%v: %d answers to %d questions\n%s", err, len(rows), len(want), said)
	}
	for i, row := range rows {
		is, roots, _ := strings.Cut(want[i], " ")
		if (row == roots) != (is == "true") {
			t.Errorf("question %d: %q, want %s of %q", i, row, is, roots)
		}
	}
}

// functions picks shell functions out of the text.
func functions(t *testing.T, names ...string) (out string) {
	t.Helper()
	for _, name := range names {
		_, rest, found := strings.Cut(how, "\n    "+name+" {")
		if !found {
			t.Fatalf("there is no %s in the text", name)
		}
		end := "\n    }\n"
		if first, _, _ := strings.Cut(rest, "\n"); strings.HasSuffix(first, "}") {
			end = "\n"
		}
		body, _, _ := strings.Cut(rest, end)
		out += name + " {" + body + strings.TrimRight(end, "\n") + "\n"
	}
	return out
}
