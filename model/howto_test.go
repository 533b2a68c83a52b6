package model

import (
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/needs"
)

const howTo = "proof/HOW-TO-CHECK.txt"

// unpacked writes the files of a packet to a folder, and gives the bag's.
func unpacked(t testing.TB, files map[string][]byte) string {
	t.Helper()
	dir, base := t.TempDir(), ""
	for name, data := range files {
		path := filepath.Join(dir, name)
		base = filepath.Join(dir, strings.Split(name, "/")[0])
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return base
}

// typed types what is indented in the packet's own text into a shell.
func typed(t testing.TB, shell, base string, env ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(base, howTo))
	if err != nil {
		t.Fatal(err)
	}
	var commands []string
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "    ") {
			commands = append(commands, line)
		}
	}
	c := exec.Command(shell)
	c.Dir, c.Env, c.Stdin = base, append(os.Environ(), env...), strings.NewReader(strings.Join(commands, ""))
	said, err := c.CombinedOutput()
	if err != nil {
		t.Errorf("%s: %v\n%s", shell, err, said)
	}
	return string(said)
}

// What stands in HOW-TO-CHECK.txt, typed as it is, says OK of a packet: of every
// line, of every leaf, of the signature, and of the time stamp also once the
// authority's certificate has expired. What somebody changed it finds.
func TestHowToCheck(t *testing.T) {
	needs.Programs(t, "sh", "bash", "openssl", "sha256sum", "xxd")
	g := openGarage(t, "sqlite")
	packet(t, g, g.Shop)
	s, a, _ := dated(t, g)
	zipped, before := packet(t, g, s)
	files, _ := unzippedFiles(t, zipped)
	base := unpacked(t, files)
	bagged := func(path string) string { return filepath.Base(base) + "/" + path }
	older := filepath.Join(t.TempDir(), "older.txt")
	write(t, older, []byte(before.Note))
	kept := "OLD=" + older
	roots := "ROOTS=" + filepath.Join(a.Dir, "root.pem")
	once := []string{"every file is the one listed", "no file was added", "signature", "the line is under the root", "the image is that of the line",
		"the line of the roll is under the root", "the image is that of the roll", "the tool is under the roll", "every line about the tool up to then is here"}
	wantOK := func(said string, want ...string) {
		t.Helper()
		if strings.Contains(said, "FAILED") || !strings.Contains(said, before.Fingerprint) {
			t.Errorf("%s", said)
		}
		for _, w := range want {
			if !strings.Contains(said, "OK: "+w) {
				t.Errorf("it does not say OK: %s:\n%s", w, said)
			}
		}
	}
	at := fmt.Sprintf("AT=%d", time.Now().Unix())
	for _, shell := range []string{"sh", "bash"} {
		said := typed(t, shell, base, roots, at, kept)
		wantOK(said, append(once, "time stamp\n", "time stamp, as of then", "signature of the older checkpoint", "the older checkpoint is of this ledger", "this ledger begins with the older one")...)
	}
	for now, failed := range map[string][]string{ // of one run each: a shell starts some hundred programs
		strings.NewReplacer("pawl/", "pawx/", fmt.Sprintf("\n%d\n", before.Size), fmt.Sprintf("\n%d\n", before.Size-1)).Replace(before.Note): {
			"signature of the older checkpoint", "the older checkpoint is of this ledger", "this ledger begins with the older one"},
		strings.Replace(before.Note, fmt.Sprintf("\n%d\n", before.Size), "\n0\n", 1): {"signature of the older checkpoint", "this ledger begins with the older one"},
	} {
		write(t, older, []byte(now))
		said := typed(t, "sh", base, kept)
		for _, want := range failed {
			if !strings.Contains(said, "FAILED: "+want) {
				t.Errorf("%q: it does not fail with %q:\n%s", now, want, said)
			}
		}
	}
	own := "OLD=" + filepath.Join(base, "proof", "checkpoint.txt")
	rows, leaves := strings.Count(string(files[bagged("proof/lines.jsonl")]), "\n"), strings.Count(string(files[bagged("proof/rolls.jsonl")]), `{"leaf"`)
	if rows < 8 || leaves < 4 {
		t.Fatalf("%d rows and %d leaves", rows, leaves)
	}
	for n := 2; n <= max(rows, leaves); n++ {
		wantOK(typed(t, "sh", base, roots, own, fmt.Sprintf("ROW=%d", min(n, rows)), fmt.Sprintf("LEAF=%d", min(n, leaves))), append(once[:4:4], "the older checkpoint is this one")...)
	}
	for path, c := range map[string]struct{ old, now, failed string }{
		"proof/checkpoint.txt":  {"\n", "0\n", "signature"},
		"proof/key.txt":         {"+", "+0", "signature"},
		"proof/lines.jsonl":     {`\"at\":`, `\"at\":1`, "the line is under the root"},
		"data/tools.json":       {"tool", "toot", "a file is not the one listed"},
		"manifest-sha256.txt":   {"data/", "data/x/", "a file is not the one listed"},
		"proof/rolls.jsonl":     {`\"lines\":`, `\"lines\":1`, "the tool is under the roll"},
		"proof/tagmanifest.tsr": {"Invented", "Inverted", "time stamp"},
	} {
		changed := maps.Clone(files)
		if path = bagged(path); !strings.Contains(string(changed[path]), c.old) {
			t.Fatalf("%s holds no %q", path, c.old)
		}
		changed[path] = []byte(strings.ReplaceAll(string(changed[path]), c.old, c.now))
		if said := typed(t, "sh", unpacked(t, changed), roots); !strings.Contains(said, "FAILED: "+c.failed) && !strings.Contains(said, "FAILED, or no ROOTS given: "+c.failed) {
			t.Errorf("with %s changed it does not fail with %q:\n%s", path, c.failed, said)
		}
	}
	without := maps.Clone(files)
	lines := strings.SplitAfter(string(files[bagged("proof/lines.jsonl")]), "\n")
	without[bagged("proof/lines.jsonl")] = []byte(strings.Join(slices.Delete(lines, 0, 1), ""))
	if said := typed(t, "sh", unpacked(t, without), roots); !strings.Contains(said, "FAILED: every line about the tool") && !strings.Contains(typed(t, "sh", unpacked(t, without), roots, "LEAF=2"), "FAILED: every line about the tool") {
		t.Errorf("without a line:\n%s", said)
	}
}
