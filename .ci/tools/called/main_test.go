package main

import (
	"bytes"
	"strings"
	"testing"
)

// The messages have the shape of golang.org/x/vuln/internal/govulncheck, version 1.0.0
// of the protocol: what is only required or imported has no function in its trace.
func TestJudge(t *testing.T) {
	const config, modules = `{"config":{"protocol_version":"v1.0.0","db":"file:///db","scan_level":"symbol"}} `, `{"SBOM":{"modules":[{"path":"pawl"},{"path":"example.com/m"}]}} `
	const head, packages = config + modules, `{"config":{"protocol_version":"v1.0.0","db":"file:///db","scan_level":"package"}} ` + modules
	finding := func(id, module, fixed, function string) string {
		return `{"finding":{"osv":"` + id + `","fixed_version":"` + fixed + `","trace":[{"module":"` + module + `","version":"v1.2.3","package":"` + module + `/p","function":"` + function + `"}]}} `
	}
	for _, c := range []struct {
		name, in string
		ours     int
		want     string
	}{
		{"nothing", head, 0, "0 called, 0 of them in modules of ours\n"},
		{"only imported", head + finding("GO-1", "example.com/m", "v1.2.4", ""), 0, "0 called, 0 of them in modules of ours\n"},
		{"imported, as asked", packages + finding("GO-1", "example.com/m", "v1.2.4", ""), 1,
			"GO-1 is imported: example.com/m/p of example.com/m v1.2.3, go get it at v1.2.4\n1 imported, 1 of them in modules of ours\n"},
		{"only required", packages + `{"finding":{"osv":"GO-1","trace":[{"module":"example.com/m","version":"v1.2.3"}]}}`, 0, "0 imported, 0 of them in modules of ours\n"},
		{"called, twice", head + strings.Repeat(finding("GO-1", "example.com/m", "v1.2.4", "Read"), 2), 1,
			"GO-1 is called: example.com/m/p.Read of example.com/m v1.2.3, go get it at v1.2.4\n1 called, 1 of them in modules of ours\n"},
		{"no remedy", head + finding("GO-1", "example.com/m", "", "Read"), 1,
			"GO-1 is called: example.com/m/p.Read of example.com/m v1.2.3, not mended anywhere yet\n1 called, 1 of them in modules of ours\n"},
		{"Go itself", head + finding("GO-2", "stdlib", "v1.2.4", "Read"), 0,
			"GO-2 is called: stdlib/p.Read of stdlib v1.2.3, build with Go v1.2.4 or later\n1 called, 0 of them in modules of ours\n"},
	} {
		var out bytes.Buffer
		if ours, err := judge(strings.NewReader(c.in), &out); err != nil || ours != c.ours || out.String() != c.want {
			t.Errorf("%s: %d, %v\n%s, want %d\n%s", c.name, ours, err, out.String(), c.ours, c.want)
		}
	}
	for _, in := range []string{"", config, modules, head + `{"finding"`} {
		if _, err := judge(strings.NewReader(in), &bytes.Buffer{}); err == nil {
			t.Errorf("%q is taken for an answer", in)
		}
	}
}
