package wire

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"net/http/httptest"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// statuses restates the table of faults and statuses that the project decided
// on; our choice, after RFC 9110 section 15.5 and RFC 6585 sections 3 and 4.
var statuses = map[fault.Kind]int{
	fault.Malformed: 400, fault.Unauthenticated: 401, fault.Forbidden: 403, fault.NotFound: 404,
	fault.NotAllowed: 405, fault.NotAcceptable: 406, fault.Conflict: 409, fault.Refused: 409,
	fault.Stale: 412, fault.TooLarge: 413, fault.Media: 415, fault.Invalid: 422,
	fault.Precondition: 428, fault.Throttled: 429, fault.Internal: 500, fault.Unavailable: 503,
}

// declared reads the kinds out of the source of package fault, so that none can
// be added there and forgotten here.
func declared(t *testing.T) []fault.Kind {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "../../model/fault/fault.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var kinds []fault.Kind
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if id, ok := spec.Type.(*ast.Ident); ok && id.Name == "Kind" {
			text, err := strconv.Unquote(spec.Values[0].(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			kinds = append(kinds, fault.Kind(text))
		}
		return true
	})
	if len(kinds) < 16 {
		t.Fatalf("found %d kinds of fault in the source; there were 16", len(kinds))
	}
	return kinds
}

func TestEveryKindOfFaultTravelsBothWays(t *testing.T) {
	for _, kind := range declared(t) {
		t.Run(string(kind), func(t *testing.T) {
			want, listed := statuses[kind]
			if !listed {
				t.Fatalf("kind %q has no status", kind)
			}
			sent := fault.New(kind, "message of %s", kind).WithHint("what to do").WithFact("holder", "Tech A")
			p := ProblemOf(sent, "req-1")
			if p.Status != want {
				t.Errorf("status %d, want %d", p.Status, want)
			}
			if p.Title == "" || p.Instance != "req-1" || !strings.HasPrefix(p.Type, "/api/v1/docs#fault-") || strings.Contains(p.Type, " ") {
				t.Errorf("problem %+v", p)
			}
			if got := p.Fault(); got.Kind != kind {
				t.Errorf("came back as %q", got.Kind)
			}
			// Where only the status is known, of the two of 409 it is the conflict.
			byStatus := kind
			if kind == fault.Refused {
				byStatus = fault.Conflict
			}
			if got := FaultOfStatus(want, ""); got.Kind != byStatus || !strings.Contains(got.Message, strconv.Itoa(want)) {
				t.Errorf("status %d alone came back as %q: %q", want, got.Kind, got.Message)
			}
		})
	}
}

func TestEachTypeOfProblemHasOneTitleAndStatus(t *testing.T) { // RFC 9457 section 3.1.3
	seen := map[string]string{}
	for _, kind := range declared(t) {
		p := ProblemOf(fault.New(kind, "x"), "")
		is := fmt.Sprint(p.Title, p.Status)
		if was, ok := seen[p.Type]; ok && was != is {
			t.Errorf("type %s is both %q and %q", p.Type, was, is)
		}
		seen[p.Type] = is
	}
	if len(seen) != len(statuses) {
		t.Errorf("%d types for %d kinds", len(seen), len(statuses))
	}
}

func TestStatusesOutsideTheTable(t *testing.T) {
	for status, want := range map[int]fault.Kind{
		402: fault.Malformed, 408: fault.Unavailable, 410: fault.NotFound, 418: fault.Malformed, 431: fault.Malformed,
		501: fault.Internal, 502: fault.Unavailable, 504: fault.Unavailable, 302: fault.Internal, 0: fault.Internal,
	} {
		if got := FaultOfStatus(status, "said").Kind; got != want {
			t.Errorf("%d is %q, want %q", status, got, want)
		}
	}
}

func TestAProblemOfNoKindOfOursCountsByItsStatus(t *testing.T) {
	p := Problem{Status: 409, Title: "Somebody else's", Kind: "novel", Detail: "already so", Hint: "wait"}
	if got := p.Fault(); got.Kind != fault.Conflict || got.Message != "already so" || got.Hint != "wait" {
		t.Errorf("%+v", got)
	}
}

func TestInternalFaultsTellNothing(t *testing.T) {
	secret := "/var/lib/pawl.db: SELECT"
	for name, err := range map[string]error{
		"plain error":     errors.New(secret),
		"internal fault":  fault.New(fault.Internal, "%s", secret).WithHint("%s", secret).WithFact("path", secret),
		"with a cause":    fault.New(fault.Internal, "x").WithCause(errors.New(secret)),
		"unknown kind":    fault.New("odd", "%s", secret),
		"cause of a 404":  fault.New(fault.NotFound, "no such tool").WithCause(errors.New(secret)),
		"wrapped":         fmt.Errorf("%s: %w", secret, fault.New(fault.NotFound, "no such tool")),
		"no error at all": nil,
	} {
		t.Run(name, func(t *testing.T) {
			w := httptest.NewRecorder()
			WriteProblem(w, err, "req-1")
			if strings.Contains(w.Body.String(), secret) {
				t.Errorf("told: %s", w.Body)
			}
			if p := ProblemOf(err, ""); p.Detail == "" {
				t.Error("says nothing at all")
			}
		})
	}
}

func TestWriteProblem(t *testing.T) {
	for _, c := range []struct {
		err    *fault.Error
		header map[string]string
	}{
		{fault.New(fault.NotFound, "no tool 00E-KM5"), map[string]string{"WWW-Authenticate": "", "Retry-After": ""}},
		{fault.New(fault.Unauthenticated, "no token"), map[string]string{"WWW-Authenticate": "Bearer"}},
		{fault.New(fault.Unavailable, "busy"), map[string]string{"Retry-After": "5"}},
		{fault.New(fault.Throttled, "slow down").WithFact(RetryFact, "30"), map[string]string{"Retry-After": "30"}},
		{fault.New(fault.Throttled, "slow down").WithFact(RetryFact, "-1\r\nX: y"), map[string]string{"Retry-After": "5"}},
	} {
		t.Run(string(c.err.Kind), func(t *testing.T) {
			w := httptest.NewRecorder()
			w.Header().Set("ETag", `"of what did not come about"`)
			w.Header().Set("Content-Length", "3")
			WriteProblem(w, c.err, "req-1")
			want := map[string]string{"Content-Type": "application/problem+json", "Cache-Control": "no-store", "ETag": "", "Content-Length": ""}
			for name, value := range c.header {
				want[name] = value
			}
			for name, value := range want {
				if got := w.Header().Get(name); got != value {
					t.Errorf("%s: %q, want %q", name, got, value)
				}
			}
			var p Problem
			if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil || p.Status != w.Code || p.Kind != string(c.err.Kind) {
				t.Errorf("%v: status %d: %s", err, w.Code, w.Body)
			}
		})
	}
}

// What a program is told comes back whole.
func TestFaultsComeBackAsTheyWereSent(t *testing.T) {
	kinds := slices.DeleteFunc(declared(t), func(k fault.Kind) bool { return k == fault.Internal })
	rapid.Check(t, func(t *rapid.T) {
		sent := &fault.Error{
			Kind:    rapid.SampledFrom(kinds).Draw(t, "kind"),
			Message: rapid.StringN(1, 40, -1).Draw(t, "message"),
			Hint:    rapid.StringN(0, 40, -1).Draw(t, "hint"),
			Facts:   rapid.MapOfN(rapid.String(), rapid.String(), 1, 3).Draw(t, "facts"),
			Fields: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) fault.Field {
				return fault.Field{Pointer: rapid.String().Draw(t, "pointer"), Detail: rapid.String().Draw(t, "detail")}
			}), 1, 3).Draw(t, "fields"),
		}
		data, err := json.Marshal(ProblemOf(sent, "i"))
		if err != nil {
			t.Fatal(err)
		}
		var p Problem
		if err := json.Unmarshal(data, &p); err != nil {
			t.Fatal(err)
		}
		if got := p.Fault(); !reflect.DeepEqual(got, sent) {
			t.Fatalf("sent %#v\ngot  %#v", sent, got)
		}
	})
}

// Whatever a stranger's problem says, the fault made of it is one of ours, says
// something, and survives being sent on.
func FuzzProblem(f *testing.F) {
	f.Add([]byte(`{"type":"about:blank","status":404,"detail":"gone","kind":"not found"}`))
	f.Add([]byte(`{"status":409,"kind":"refused","hint":"h","errors":[{"pointer":"#/a","detail":"d"}],"facts":{"holder":"Tech A"}}`))
	f.Add([]byte(`{"status":-1,"kind":"internal"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var p Problem
		if json.Unmarshal(data, &p) != nil {
			return
		}
		made := p.Fault()
		if _, ours := statuses[made.Kind]; !ours {
			t.Fatalf("kind %q", made.Kind)
		}
		if made.Message == "" {
			t.Fatal("says nothing")
		}
		again := ProblemOf(made, "").Fault()
		if made.Kind == fault.Internal {
			if again.Kind != fault.Internal || again.Facts != nil {
				t.Fatalf("an internal fault was sent on as %#v", again)
			}
			return
		}
		if !reflect.DeepEqual(again, made) {
			t.Fatalf("made %#v\nagain %#v", made, again)
		}
	})
}
