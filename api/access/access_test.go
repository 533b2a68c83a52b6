package access

import (
	"net/http"
	"strings"
	"testing"

	"pawl/model/people"
)

// The roles and what they may do are those of DETAILS, "Access".
func TestAllowed(t *testing.T) {
	const m, tech, v = people.Manager, people.Technician, people.Viewer
	for _, c := range []struct {
		method, path string
		yes, no      []people.Role
	}{
		{"GET", "/livez", []people.Role{m, tech, v, people.Device, ""}, nil},
		{"GET", "/api/v1/whoami", []people.Role{m, tech, v}, []people.Role{people.Device, ""}},
		{"HEAD", "/api/v1/tools/:number", []people.Role{m, tech}, []people.Role{v, people.Device, ""}},
		{"POST", "/api/v1/tools/:number/take", []people.Role{m, tech}, []people.Role{v, people.Device, ""}},
		{"POST", "/api/v1/tools/:number/wrong", []people.Role{m, tech}, []people.Role{v, ""}},
		{"POST", "/api/v1/tools/:number/clear", []people.Role{m}, []people.Role{tech, v, ""}},
		{"PATCH", "/api/v1/settings", []people.Role{m}, []people.Role{tech, v}},
		{"GET", "/api/v1/settings", []people.Role{m, tech}, []people.Role{v}},
		{"POST", "/api/v1/tokens", []people.Role{m}, []people.Role{tech, v}},
		{"POST", "/api/v1/clock/confirm", []people.Role{m}, []people.Role{tech, v}},
		{"POST", "/api/v1/verify", []people.Role{m}, []people.Role{tech, v}},
		{"DELETE", "/api/v1/tools/:number", nil, []people.Role{m, tech, v}},
		{"GET", "/api/v1/nothing", nil, []people.Role{m, tech, v, ""}},
		{"GET", "/api/v1/tools/00EKM5", nil, []people.Role{m}},
	} {
		for _, role := range c.yes {
			if !Allowed(c.method, c.path, role) {
				t.Errorf("%s %s is refused to %q", c.method, c.path, role)
			}
		}
		for _, role := range c.no {
			if Allowed(c.method, c.path, role) {
				t.Errorf("%s %s is allowed to %q", c.method, c.path, role)
			}
		}
	}
}

func TestManagersMayUseEveryRoute(t *testing.T) {
	if len(Routes()) < 30 {
		t.Fatalf("the matrix holds only %d routes", len(Routes()))
	}
	for _, r := range Routes() {
		if !Allowed(r.Method, r.Path, people.Manager) {
			t.Errorf("%s %s is refused to a manager", r.Method, r.Path)
		}
	}
}

func TestOnlyFourRoutesAreOpenToAnyone(t *testing.T) {
	var open []string
	for _, r := range Routes() {
		if Anyone(r.Method, r.Path) {
			open = append(open, r.Method+" "+r.Path)
		}
	}
	want := "GET /api/v1/docs, GET /api/v1/openapi.json, GET /livez, GET /readyz"
	if got := strings.Join(open, ", "); got != want {
		t.Errorf("open to anyone: %s\nwant %s", got, want)
	}
	if Anyone(http.MethodGet, "/nothing") || !Anyone(http.MethodHead, "/livez") {
		t.Error("an unknown route is open, or HEAD is not asked as GET")
	}
}

func TestParseRefuses(t *testing.T) {
	for name, text := range map[string]string{
		"no role":         "GET /x",
		"no such role":    "GET /x boss",
		"shop device":     "GET /x shop device",
		"no such method":  "FETCH /x manager",
		"method in small": "get /x manager",
		"no path":         "GET x manager",
		"anyone and more": "GET /x anyone manager",
		"a role twice":    "GET /x manager manager",
		"a route twice":   "GET /x manager\nGET  /x  technician",
	} {
		if m, err := parse(text); err == nil {
			t.Errorf("%s: %q is read as %v", name, text, m)
		}
	}
}

// FuzzParse: what is read can be written out again and reads the same, and no
// line is dropped.
func FuzzParse(f *testing.F) {
	f.Add(matrixText)
	f.Add("GET /x manager\n# note\n\nPUT /y anyone")
	f.Fuzz(func(t *testing.T, text string) {
		m, err := parse(text)
		if err != nil {
			return
		}
		var out strings.Builder
		for r, row := range m {
			out.WriteString(r.Method + " " + r.Path)
			if row.anyone {
				out.WriteString(" anyone")
			}
			for _, role := range row.roles {
				out.WriteString(" " + string(role))
			}
			out.WriteString("\n")
		}
		again, err := parse(out.String())
		if err != nil || len(again) != len(m) {
			t.Fatalf("%d routes are written as %q and read as %d: %v", len(m), out.String(), len(again), err)
		}
		lines := 0
		for _, line := range strings.Split(text, "\n") {
			if note := strings.IndexByte(line, '#'); note >= 0 {
				line = line[:note]
			}
			if strings.TrimSpace(line) != "" {
				lines++
			}
		}
		if lines != len(m) {
			t.Fatalf("%d lines gave %d routes", lines, len(m))
		}
	})
}
