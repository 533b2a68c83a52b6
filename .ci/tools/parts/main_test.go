package main

import (
	"debug/buildinfo"
	"os"
	"runtime/debug"
	"strings"
	"testing"
)

// The hash stands in base64 as in go.sum, and in hex as in CycloneDX.
func TestCompare(t *testing.T) {
	const sum = "h1:ungWCRkqOaN3tYjrsl3HNzfCpw1ryAVrqhZKSYx0E4w="
	const hash = "ba781609192a39a377b588ebb25dc73737c2a70d6bc8056baa164a498c74138c"
	info := &buildinfo.BuildInfo{GoVersion: "go1.26.8", Main: debug.Module{Path: "pawl"}, Deps: []*debug.Module{
		{Path: "example.com/a", Version: "v1.0.0", Sum: sum},
		{Path: "example.com/b", Version: "v1.0.0", Replace: &debug.Module{Path: "example.com/c", Version: "v1.2.0", Sum: sum}},
	}}
	part := func(name, version, hash string) string {
		return `{"name":"` + name + `","version":"` + version + `","purl":"pkg:golang/` + name + `@` + version + `?type=module","hashes":[{"alg":"SHA-256","content":"` + hash + `"}]}`
	}
	a, c, std := part("example.com/a", "v1.0.0", hash), part("example.com/c", "v1.2.0", hash), part("std", "go1.26.8", "")
	of := func(version, name string, parts ...string) string {
		return `{"bomFormat":"CycloneDX","specVersion":"` + version + `","metadata":{"component":{"name":"` + name + `"}},"components":[` + strings.Join(parts, ",") + `]}`
	}
	for _, c := range []struct{ name, list, says string }{
		{"all of it", of("1.6", "pawl", a, c, std), ""},
		{"no list", "{", "cannot be read"},
		{"too old", of("1.4", "pawl", a, c, std), "not CycloneDX 1.5"},
		{"of another program", of("1.6", "prawn", a, c, std), `of "prawn"`},
		{"one is missing", of("1.6", "pawl", a, std), "example.com/c v1.2.0 is not in the list"},
		{"in another version", of("1.6", "pawl", part("example.com/a", "v1.0.1", hash), c, std), "example.com/a v1.0.0 is not in the list"},
		{"with another hash", of("1.6", "pawl", part("example.com/a", "v1.0.0", "00"), c, std), "has the hashes"},
		{"with another address", of("1.6", "pawl", strings.Replace(a, "golang/example.com/a", "golang/example.com/x", 1), c, std), "has the address"},
		{"one too many", of("1.6", "pawl", a, a, c, std), "and not in the program"},
		{"another Go", of("1.6", "pawl", a, c, part("std", "go1.26.7", "")), "std go1.26.8 is not in the list"},
	} {
		wrong := strings.Join(compare(info, []byte(c.list)), "; ")
		if (wrong == "") != (c.says == "") || !strings.Contains(wrong, c.says) {
			t.Errorf("%s: %q, want %q", c.name, wrong, c.says)
		}
	}
}

// A program of Go says what it is made of.
func TestThisProgramCanBeRead(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if info, err := buildinfo.ReadFile(self); err != nil || info.GoVersion == "" {
		t.Errorf("%+v, %v", info, err)
	}
}
