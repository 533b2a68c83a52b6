// Command parts holds a list of parts (CycloneDX 1.5 or later, JSON) against the program
// that it is of: parts PROGRAM LIST. Every module that the linker wrote into the program
// must be in the list once, in that version and with the hash by which it was checked, and
// nothing else but Go's own library. It exits with 1 where that is not so.
package main

import (
	"debug/buildinfo"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
)

// list is the part of CycloneDX (https://cyclonedx.org/docs/1.6/json/) that is looked at.
type list struct {
	BOMFormat   string `json:"bomFormat"`
	SpecVersion string `json:"specVersion"`
	Metadata    struct {
		Component component `json:"component"`
	} `json:"metadata"`
	Components []component `json:"components"`
}

type component struct {
	Name    string `json:"name"`
	Version string `json:"version"`
	PURL    string `json:"purl"`
	Hashes  []struct {
		Alg     string `json:"alg"`
		Content string `json:"content"`
	} `json:"hashes"`
}

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "parts PROGRAM LIST")
		os.Exit(2)
	}
	info, err := buildinfo.ReadFile(os.Args[1])
	if err != nil {
		fmt.Fprintln(os.Stderr, "parts:", err)
		os.Exit(1)
	}
	raw, err := os.ReadFile(os.Args[2])
	if err != nil {
		fmt.Fprintln(os.Stderr, "parts:", err)
		os.Exit(1)
	}
	wrong := compare(info, raw)
	for _, w := range wrong {
		fmt.Fprintln(os.Stderr, "parts:", w)
	}
	if len(wrong) > 0 {
		os.Exit(1)
	}
	fmt.Printf("%d modules, all in the list of parts\n", len(info.Deps))
}

// compare tells in what a list is not that of the program.
func compare(info *buildinfo.BuildInfo, raw []byte) (wrong []string) {
	var l list
	if err := json.Unmarshal(raw, &l); err != nil {
		return []string{"the list cannot be read: " + err.Error()}
	}
	major, minor, _ := strings.Cut(l.SpecVersion, ".")
	if n, err := strconv.Atoi(minor); l.BOMFormat != "CycloneDX" || major != "1" || err != nil || n < 5 {
		wrong = append(wrong, fmt.Sprintf("it is %s %s, not CycloneDX 1.5 or later", l.BOMFormat, l.SpecVersion))
	}
	if l.Metadata.Component.Name != info.Main.Path {
		wrong = append(wrong, fmt.Sprintf("it is of %q, the program is %q", l.Metadata.Component.Name, info.Main.Path))
	}
	if len(info.Deps) == 0 {
		wrong = append(wrong, "the program names no module")
	}
	left := slices.Clone(l.Components)
	take := func(name, version string) (c component, found bool) {
		i := slices.IndexFunc(left, func(c component) bool { return c.Name == name && c.Version == version })
		if i < 0 {
			wrong = append(wrong, name+" "+version+" is not in the list")
			return c, false
		}
		c = left[i]
		left = slices.Delete(left, i, i+1)
		return c, true
	}
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		c, found := take(m.Path, m.Version)
		if !found {
			continue
		}
		if !strings.HasPrefix(c.PURL, "pkg:golang/"+m.Path+"@"+m.Version) {
			wrong = append(wrong, fmt.Sprintf("%s %s has the address %s", m.Path, m.Version, c.PURL))
		}
		if want := sha256Of(m.Sum); len(c.Hashes) != 1 || c.Hashes[0].Alg != "SHA-256" || c.Hashes[0].Content != want {
			wrong = append(wrong, fmt.Sprintf("%s %s has the hashes %v, want %s", m.Path, m.Version, c.Hashes, want))
		}
	}
	take("std", info.GoVersion)
	for _, c := range left {
		wrong = append(wrong, c.Name+" "+c.Version+" is in the list, and not in the program")
	}
	return wrong
}

// sha256Of gives in hex what a go.sum line has as h1: and base64 of a SHA-256.
func sha256Of(sum string) string {
	b, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(sum, "h1:"))
	if err != nil || !strings.HasPrefix(sum, "h1:") {
		return "no h1: hash"
	}
	return hex.EncodeToString(b)
}
