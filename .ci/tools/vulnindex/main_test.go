package main

import (
	"os"
	"path/filepath"
	"testing"
)

// The files that the format's own description shows, for a report of two stretches:
// https://go.dev/security/vuln/database and https://ossf.github.io/osv-schema/.
func TestLay(t *testing.T) {
	from, to := t.TempDir(), filepath.Join(t.TempDir(), "db")
	for name, raw := range map[string]string{
		"GO-1999-0001.json": `{"id":"GO-1999-0001","modified":"2000-01-01T00:00:00Z","aliases":["CVE-1999-1111"],"affected":[{"package":{"name":"stdlib","ecosystem":"Go"},"ranges":[{"type":"SEMVER","events":[{"introduced":"0"},{"fixed":"1.1.0"},{"introduced":"1.2.0"},{"fixed":"1.2.2"}]}]}]}`,
		"GO-2000-0002.json": `{"id":"GO-2000-0002","modified":"2002-01-01T00:00:00Z","affected":[{"package":{"name":"example.com/m","ecosystem":"Go"},"ranges":[{"type":"SEMVER","events":[{"introduced":"0"}]}]}]}`,
	} {
		if err := os.WriteFile(filepath.Join(from, name), []byte(raw), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := lay(from, to); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"db":      `{"modified":"2002-01-01T00:00:00Z"}`,
		"vulns":   `[{"id":"GO-1999-0001","modified":"2000-01-01T00:00:00Z","aliases":["CVE-1999-1111"]},{"id":"GO-2000-0002","modified":"2002-01-01T00:00:00Z"}]`,
		"modules": `[{"path":"example.com/m","vulns":[{"id":"GO-2000-0002","modified":"2002-01-01T00:00:00Z"}]},{"path":"stdlib","vulns":[{"id":"GO-1999-0001","modified":"2000-01-01T00:00:00Z","fixed":"1.2.2"}]}]`,
	} {
		if got, err := os.ReadFile(filepath.Join(to, "index", name+".json")); err != nil || string(got) != want {
			t.Errorf("%s.json: %v\n%s, want\n%s", name, err, got, want)
		}
	}
	if err := os.WriteFile(filepath.Join(from, "GO-2000-0003.json"), []byte(`{"id":"GO-1"}`), 0o600); err != nil {
		t.Fatal(err)
	}
	if lay(from, to) == nil {
		t.Error("a report under another's name is taken")
	}
}

// The cases are those that the database's makers try their own with:
// golang.org/x/vulndb/internal/osvutils/fixed_test.go. The letters are events in order:
// i is introduced, f is fixed.
func TestFixed(t *testing.T) {
	for _, c := range []struct {
		name   string
		ranges [][]string
		want   string
	}{
		{"empty", nil, ""},
		{"no fix", [][]string{{"i0"}}, ""},
		{"no latest fix", [][]string{{"i0", "f1.0.4", "i1.1.2"}}, ""},
		{"unsorted no latest fix", [][]string{{"f1.0.4", "i0", "i1.1.2", "i1.5.0", "f1.1.4"}}, ""},
		{"unsorted with fix", [][]string{{"f1.0.0", "i0", "f0.1.0", "i0.5.0"}}, "1.0.0"},
		{"multiple ranges", [][]string{{"i0", "f0.1.0"}, {"i0", "f0.2.0"}}, "0.2.0"},
		{"pseudoversion", [][]string{{"i0", "f0.0.0-20220824120805-abc", "i0.0.0-20230824120805-efg", "f0.0.0-20240824120805-hij"}}, "0.0.0-20240824120805-hij"},
	} {
		var ranges []span
		for _, events := range c.ranges {
			r := span{Type: "SEMVER"}
			for _, e := range events {
				if e[0] == 'i' {
					r.Events = append(r.Events, event{Introduced: e[1:]})
				} else {
					r.Events = append(r.Events, event{Fixed: e[1:]})
				}
			}
			ranges = append(ranges, r)
		}
		if got := fixed(ranges); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
