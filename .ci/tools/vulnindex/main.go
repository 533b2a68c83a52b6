// Command vulnindex lays out reports of vulnerabilities as the folder that govulncheck
// reads with -db: vulnindex FROM TO, where FROM holds one OSV file a report. The layout
// is that of https://go.dev/security/vuln/database ("API").
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/mod/semver"
)

// report is what the index needs of a report, by the names of
// https://ossf.github.io/osv-schema/.
type report struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Aliases  []string  `json:"aliases"`
	Affected []struct {
		Package struct {
			Name string `json:"name"`
		} `json:"package"`
		Ranges []span `json:"ranges"`
	} `json:"affected"`
}

// span is a range of versions: each event begins or ends a stretch that is affected.
type span struct {
	Type   string  `json:"type"`
	Events []event `json:"events"`
}

type event struct {
	Introduced string `json:"introduced"`
	Fixed      string `json:"fixed"`
}

// module is an entry of index/modules.json.
type module struct {
	Path  string       `json:"path"`
	Vulns []moduleVuln `json:"vulns"`
}

type moduleVuln struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Fixed    string    `json:"fixed,omitempty"`
}

// vuln is an entry of index/vulns.json.
type vuln struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Aliases  []string  `json:"aliases,omitempty"`
}

func main() {
	if len(os.Args) != 3 {
		fail(errors.New("vulnindex FROM TO: two folders are wanted"))
	}
	fail(lay(os.Args[1], os.Args[2]))
}

func fail(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "vulnindex:", err)
		os.Exit(1)
	}
}

// lay copies the reports to ID/ and writes the three files of index/ about them.
func lay(from, to string) error {
	for _, dir := range []string{"ID", "index"} {
		if err := os.MkdirAll(filepath.Join(to, dir), 0o700); err != nil {
			return err
		}
	}
	files, err := filepath.Glob(filepath.Join(from, "GO-*.json"))
	if err != nil {
		return err
	}
	var newest time.Time
	var vulns []vuln
	modules := map[string]*module{}
	for _, file := range files {
		r, err := read(file, to)
		if err != nil {
			return err
		}
		if r.Modified.After(newest) {
			newest = r.Modified
		}
		vulns = append(vulns, vuln{r.ID, r.Modified, r.Aliases})
		enter(modules, r)
	}
	byPath := slices.SortedFunc(maps.Values(modules), func(a, b *module) int { return strings.Compare(a.Path, b.Path) })
	return errors.Join(
		write(filepath.Join(to, "index", "db.json"), map[string]time.Time{"modified": newest}),
		write(filepath.Join(to, "index", "vulns.json"), vulns),
		write(filepath.Join(to, "index", "modules.json"), byPath))
}

// read takes in a report and copies it as it stands.
func read(file, to string) (report, error) {
	var r report
	raw, err := os.ReadFile(file)
	if err != nil {
		return r, err
	}
	if err := json.Unmarshal(raw, &r); err != nil {
		return r, fmt.Errorf("%s: %w", file, err)
	}
	if r.ID+".json" != filepath.Base(file) {
		return r, fmt.Errorf("%s holds the report %q", file, r.ID)
	}
	return r, os.WriteFile(filepath.Join(to, "ID", r.ID+".json"), raw, 0o600)
}

// enter files a report under each module that it affects.
func enter(modules map[string]*module, r report) {
	for _, a := range r.Affected {
		m := modules[a.Package.Name]
		if m == nil {
			m = &module{Path: a.Package.Name}
			modules[m.Path] = m
		}
		m.Vulns = append(m.Vulns, moduleVuln{r.ID, r.Modified, fixed(a.Ranges)})
	}
}

// fixed is the version after which nothing is affected; "" when there is none, or when
// what was mended came back. govulncheck passes over a module from that version on, so
// one too low would hide a report.
func fixed(ranges []span) string {
	latest := ""
	for _, r := range ranges {
		if r.Type != "SEMVER" {
			continue
		}
		for _, e := range r.Events {
			if e.Fixed != "" && before(latest, e.Fixed) {
				latest = e.Fixed
			}
		}
		for _, e := range r.Events {
			if e.Introduced != "" && e.Introduced != "0" && before(latest, e.Introduced) {
				return ""
			}
		}
	}
	return latest
}

func before(a, b string) bool { return a == "" || semver.Compare("v"+a, "v"+b) < 0 }

func write(path string, v any) error {
	raw, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return os.WriteFile(path, raw, 0o600)
}
