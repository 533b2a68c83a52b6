// Command called reads what govulncheck -format json says from standard input and exits
// with 3 when the program calls (-scan symbol) or imports (-scan package) something with
// a known vulnerability in a module of ours, mended by now or not. What is so in Go itself
// is only named: which Go builds the program is not for its sources to say.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

// message is the part of https://pkg.go.dev/golang.org/x/vuln/internal/govulncheck#Message
// that is judged.
type message struct {
	Config *struct {
		DB        string `json:"db"`
		ScanLevel string `json:"scan_level"`
	} `json:"config"`
	SBOM *struct {
		Modules []struct{} `json:"modules"`
	} `json:"SBOM"`
	Finding *finding `json:"finding"`
}

// finding is a report that touches the program, and how: the trace begins at what is
// vulnerable, and names a function there only if that is called.
type finding struct {
	OSV   string `json:"osv"`
	Fixed string `json:"fixed_version"`
	Trace []struct {
		Module   string `json:"module"`
		Version  string `json:"version"`
		Package  string `json:"package"`
		Function string `json:"function"`
	} `json:"trace"`
}

func main() {
	ours, err := judge(os.Stdin, os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, "called:", err)
		os.Exit(1)
	}
	if ours > 0 {
		os.Exit(3)
	}
}

// judge names each vulnerability that is called or imported once, and counts those of our
// modules.
func judge(in io.Reader, out io.Writer) (ours int, err error) {
	var seen []string
	var level, how string
	var modules bool
	for d := json.NewDecoder(in); ; {
		var m message
		if err := d.Decode(&m); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return 0, err
		}
		if m.Config != nil && m.Config.DB != "" {
			level = m.Config.ScanLevel
			how = map[string]string{"symbol": "called", "package": "imported"}[level]
		}
		modules = modules || m.SBOM != nil && len(m.SBOM.Modules) > 1
		if m.Finding == nil || len(m.Finding.Trace) == 0 || slices.Contains(seen, m.Finding.OSV) {
			continue
		}
		at := m.Finding.Trace[0]
		if at.Package == "" || level == "symbol" && at.Function == "" {
			continue
		}
		seen = append(seen, m.Finding.OSV)
		goItself := at.Module == "stdlib" || at.Module == "toolchain"
		if !goItself {
			ours++
		}
		fmt.Fprintf(out, "%s is %s: %s of %s %s, %s\n", m.Finding.OSV, how, strings.TrimSuffix(at.Package+"."+at.Function, "."), at.Module, at.Version, remedy(m.Finding.Fixed, goItself))
	}
	if how == "" || !modules {
		return 0, errors.New("standard input is not a whole answer of govulncheck -format json")
	}
	fmt.Fprintf(out, "%d %s, %d of them in modules of ours\n", len(seen), how, ours)
	return ours, nil
}

func remedy(fixed string, goItself bool) string {
	switch {
	case fixed == "":
		return "not mended anywhere yet"
	case goItself:
		return "build with Go " + fixed + " or later"
	}
	return "go get it at " + fixed
}
