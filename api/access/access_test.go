package access

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"pawl/model/people"
)

// who are the columns of the table below, as the matrix words them; "nobody" has
// no role.
var who = map[string]people.Actor{
	"manager": {Role: people.Manager}, "technician": {Role: people.Technician}, "viewer": {Role: people.Viewer},
	"device": {Role: people.ShopDevice}, "device+badge": {Role: people.ShopDevice, Person: "H-A"}, "nobody": {},
}

// Technician: the shop's and own tools; shop device: the acts of a board, most
// of them with a badge; viewer: what is theirs alone. Our choice.
func TestAllowed(t *testing.T) {
	for _, c := range []struct{ method, path, yes string }{
		{"GET", "/livez", "manager technician viewer device device+badge nobody"},
		{"GET", "/api/v1/whoami", "manager technician viewer device device+badge"},
		{"HEAD", "/api/v1/tools/:number", "manager technician device device+badge"},
		{"GET", "/api/v1/tools/:number/history", "manager technician"},
		{"POST", "/api/v1/tools/:number/take", "manager technician device+badge"},
		{"POST", "/api/v1/tools/:number/return", "manager technician device device+badge"},
		{"POST", "/api/v1/tools/:number/handover", "manager technician device+badge"},
		{"POST", "/api/v1/tools/:number/back", "manager technician device+badge"},
		{"POST", "/api/v1/tools/:number/away", "manager technician"},
		{"POST", "/api/v1/tools/:number/wrong", "manager technician device+badge"},
		{"POST", "/api/v1/tools/:number/clear", "manager"},
		{"GET", "/api/v1/jobs", "manager technician device+badge"},
		{"POST", "/api/v1/jobs", "manager technician device+badge"},
		{"PATCH", "/api/v1/settings", "manager"},
		{"GET", "/api/v1/settings", "manager technician"},
		{"POST", "/api/v1/tokens", "manager"},
		{"POST", "/api/v1/enrolments", "manager technician"},
		{"POST", "/api/v1/enrolments/:secret/enter", "manager technician viewer device device+badge nobody"},
		{"POST", "/api/v1/clock/confirm", "manager"},
		{"POST", "/api/v1/verify", "manager"},
		{"DELETE", "/api/v1/tools/:number", ""},
		{"GET", "/api/v1/nothing", ""},
		{"GET", "/api/v1/tools/00EKM5", ""},
	} {
		for name, actor := range who {
			if got, want := Allowed(c.method, c.path, actor), slices.Contains(strings.Fields(c.yes), name); got != want {
				t.Errorf("%s %s: %s may: %v, want %v", c.method, c.path, name, got, want)
			}
		}
		if got, want := AllowedWithBadge(c.method, c.path), strings.Contains(c.yes, "badge"); got != want && !Anyone(c.method, c.path) {
			t.Errorf("%s %s: with a badge: %v, want %v", c.method, c.path, got, want)
		}
	}
}

func TestManagersMayUseEveryRoute(t *testing.T) {
	if len(Routes()) < 30 {
		t.Fatalf("the matrix holds only %d routes", len(Routes()))
	}
	for _, r := range Routes() {
		if !Allowed(r.Method, r.Path, people.Actor{Role: people.Manager}) {
			t.Errorf("%s %s is refused to a manager", r.Method, r.Path)
		}
	}
}

// Besides what tells nothing of the shop, a link lets in whoever holds it, and the
// address of a calendar shows its dates.
func TestFewRoutesAreOpenToAnyone(t *testing.T) {
	var open []string
	for _, r := range Routes() {
		page := !strings.HasPrefix(r.Path, "/api/") && !strings.HasSuffix(r.Path, "z")
		switch {
		case !Anyone(r.Method, r.Path):
		case !page:
			open = append(open, r.Method+" "+r.Path)
		case r.Method != http.MethodGet && !strings.HasPrefix(r.Path, "/enter/"):
			t.Errorf("%s %s changes something and is open to anyone", r.Method, r.Path)
		}
	}
	want := "GET /api/v1/calendar/:secret, GET /api/v1/docs, GET /api/v1/enrolments/:secret, POST /api/v1/enrolments/:secret/enter, GET /api/v1/openapi.json, GET /livez, GET /readyz"
	if got := strings.Join(open, ", "); got != want {
		t.Errorf("open to anyone: %s\nwant %s", got, want)
	}
	if Anyone(http.MethodGet, "/nothing") || !Anyone(http.MethodHead, "/livez") {
		t.Error("an unknown route is open, or HEAD is not asked as GET")
	}
}

func TestParseRefuses(t *testing.T) {
	for name, text := range map[string]string{
		"no role":          "GET /x",
		"no such role":     "GET /x boss",
		"shop device":      "GET /x shop device",
		"both of a device": "GET /x device device+badge",
		"no such method":   "FETCH /x manager",
		"method in small":  "get /x manager",
		"no path":          "GET x manager",
		"anyone and more":  "GET /x anyone manager",
		"a role twice":     "GET /x manager manager",
		"a route twice":    "GET /x manager\nGET  /x  technician",
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
				word := string(role)
				if role == people.ShopDevice {
					word = map[bool]string{true: badgeDevice, false: device}[row.badged]
				}
				out.WriteString(" " + word)
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
