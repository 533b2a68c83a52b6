package client_test

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/register"
)

// asked is what a fake server saw of a request.
type asked struct {
	line   string // method, path and query
	header http.Header
	body   string
}

// recorded is a server that answers everything with one JSON and notes it.
func recorded(answer string) (*client.Client, *[]asked) {
	var seen []asked
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		seen = append(seen, asked{r.Method + " " + r.RequestURI, r.Header, string(body)})
		w.Header().Set("ETag", `"3.0123456789abcdef"`)
		io.WriteString(w, answer)
	})
	c := client.New("", client.InProcess{Handler: h}, "")
	c.Pause = 0
	return c, &seen
}

const etag = `"3.0123456789abcdef"`

func open(text string) func() (io.ReadCloser, error) {
	return func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(text)), nil }
}

func pointer[T any](v T) *T { return &v }

// ctx is that of calls which nobody ends.
var ctx = context.Background()

// routes are those of the API that have a typed method, each as it asks for it.
var routes = []struct {
	call func(*client.Client) error
	line string
	body string
}{
	{func(c *client.Client) error { return c.Ready(ctx) }, "GET /readyz", ""},
	{func(c *client.Client) error { _, err := c.Mark(ctx, "00E-KM5", wire.Mark{Read: "KD4*"}); return err }, "POST /api/v1/tools/00E-KM5/marking", `{"read":"KD4*"}`},
	{func(c *client.Client) error {
		_, err := c.WithdrawMarking(ctx, "00E-KM5", wire.WithdrawMarking{ID: "M-00000000", Why: "mistaken"})
		return err
	}, "POST /api/v1/tools/00E-KM5/marking/withdraw", `{"id":"M-00000000","why":"mistaken"}`},
	{func(c *client.Client) error {
		_, err := c.WithdrawCalibration(ctx, "00E-KM5", wire.Withdraw{ID: "A-00000000", Why: "mistaken"})
		return err
	}, "POST /api/v1/tools/00E-KM5/calibrate/withdraw", `{"id":"A-00000000","why":"mistaken"}`},
	{func(c *client.Client) error {
		_, err := c.WithdrawBench(ctx, "00E-KM5", wire.Withdraw{ID: "A-00000000", Why: "mistaken"})
		return err
	}, "POST /api/v1/tools/00E-KM5/bench/withdraw", `{"id":"A-00000000","why":"mistaken"}`},
	{func(c *client.Client) error {
		_, err := c.WithdrawTightening(ctx, "00E-KM5", wire.Withdraw{ID: "V-00000000", Why: "mistaken"})
		return err
	}, "POST /api/v1/tools/00E-KM5/tighten/withdraw", `{"id":"V-00000000","why":"mistaken"}`},
	{func(c *client.Client) error {
		_, err := c.WithdrawMeasurement(ctx, "00E-KM5", wire.Withdraw{ID: "V-00000000", Why: "mistaken"})
		return err
	}, "POST /api/v1/tools/00E-KM5/measure/withdraw", `{"id":"V-00000000","why":"mistaken"}`},
	{func(c *client.Client) error { _, err := c.Markings(ctx, "00E-KM5"); return err }, "GET /api/v1/tools/00E-KM5/marking", ""},
	{func(c *client.Client) error { _, err := c.MarkingForecast(ctx, "00E-KM5", "M-1"); return err }, "GET /api/v1/tools/00E-KM5/marking/forecast?marking=M-1", ""},
	{func(c *client.Client) error { _, err := c.MarkingRoundAll(ctx); return err }, "GET /api/v1/markings/round?all=true", ""},
	{func(c *client.Client) error { return c.MarkingRoundFile(ctx, io.Discard) }, "GET /api/v1/markings/round?format=pdf", ""},
	{func(c *client.Client) error { _, err := c.Whoami(ctx); return err }, "GET /api/v1/whoami", ""},
	{func(c *client.Client) error {
		_, err := c.Worth(ctx, client.WorthQuery{Limit: 2, Cursor: "x", Tax: true, MidQuarter: "2025"})
		return err
	}, "GET /api/v1/worth?cursor=x&limit=2&mid_quarter=2025&tax=true", ""},
	{func(c *client.Client) error { return c.WorthWhole(ctx, client.WorthQuery{Limit: 2}, io.Discard) }, "GET /api/v1/worth?all=true", ""},
	{func(c *client.Client) error { _, err := c.WorthAll(ctx, client.WorthQuery{Tax: true}); return err }, "GET /api/v1/worth?all=true&tax=true", ""},
	{func(c *client.Client) error { _, err := c.ToolWorth(ctx, "00E-KM5"); return err }, "GET /api/v1/tools/00E-KM5/worth", ""},
	{func(c *client.Client) error {
		_, err := c.AddQuote(ctx, "00E-KM5", wire.NewQuote{Amount: "9", Source: "x", Date: "2026-01-15"})
		return err
	}, "POST /api/v1/tools/00E-KM5/quotes", `{"amount":"9","source":"x","date":"2026-01-15"}`},
	{func(c *client.Client) error { _, err := c.Judge(ctx, "00E-KM5", wire.NewCondition{}); return err }, "POST /api/v1/tools/00E-KM5/condition", `{}`},
	{func(c *client.Client) error { _, err := c.Lives(ctx); return err }, "GET /api/v1/worth/lives", ""},
	{func(c *client.Client) error {
		_, err := c.SetLife(ctx, wire.NewLife{Kind: "jack", Months: "9", Floor: "0"})
		return err
	}, "POST /api/v1/worth/lives", `{"kind":"jack","months":"9","floor":"0"}`},
	{func(c *client.Client) error { _, err := c.EndLife(ctx, "X-1"); return err }, "POST /api/v1/worth/lives/X-1/end", `{}`},
	{func(c *client.Client) error { _, err := c.PriceIndex(ctx); return err }, "GET /api/v1/worth/index", ""},
	{func(c *client.Client) error { _, err := c.EndIndex(ctx); return err }, "POST /api/v1/worth/index/end", `{}`},
	{func(c *client.Client) error { _, err := c.Gaps(ctx, 2, "x"); return err }, "GET /api/v1/gaps?cursor=x&limit=2", ""},
	{func(c *client.Client) error { return c.GapsWhole(ctx, io.Discard) }, "GET /api/v1/gaps?all=true", ""},
	{func(c *client.Client) error { _, err := c.GapsAll(ctx); return err }, "GET /api/v1/gaps?all=true", ""},
	{func(c *client.Client) error { _, _, err := c.Policy(ctx, "P-1"); return err }, "GET /api/v1/policies/P-1", ""},
	{func(c *client.Client) error {
		_, err := c.EditPolicy(ctx, "P-1", etag, wire.PolicyChange{Limit: pointer("9")})
		return err
	}, "PATCH /api/v1/policies/P-1", `{"limit":"9"}`},
	{func(c *client.Client) error { _, _, err := c.Settings(ctx); return err }, "GET /api/v1/settings", ""},
	{func(c *client.Client) error {
		_, err := c.ChangeSettings(ctx, etag, map[string]any{"zone": "UTC"})
		return err
	}, "PATCH /api/v1/settings", `{"zone":"UTC"}`},
	{func(c *client.Client) error { _, err := c.People(ctx); return err }, "GET /api/v1/people", ""},
	{func(c *client.Client) error { _, _, err := c.Person(ctx, "p1"); return err }, "GET /api/v1/people/p1", ""},
	{func(c *client.Client) error {
		_, err := c.AddPerson(ctx, wire.NewPerson{Name: "Tech A", Role: "technician"})
		return err
	}, "POST /api/v1/people", `{"name":"Tech A","role":"technician"}`},
	{func(c *client.Client) error {
		_, err := c.ChangePerson(ctx, "p1", etag, wire.PersonChange{Shares: pointer(true)})
		return err
	}, "PATCH /api/v1/people/p1", `{"shares":true}`},
	{func(c *client.Client) error { _, err := c.Places(ctx); return err }, "GET /api/v1/places", ""},
	{func(c *client.Client) error {
		_, err := c.AddPlace(ctx, wire.NewPlace{Path: "Bay 1/Box", Person: "Tech A"})
		return err
	}, "POST /api/v1/places", `{"path":"Bay 1/Box","person":"Tech A"}`},
	{func(c *client.Client) error { _, err := c.Place(ctx, "Bay 1/Box"); return err }, "GET /api/v1/places/Bay%201%2FBox", ""},
	{func(c *client.Client) error {
		_, err := c.RenamePlace(ctx, "Bay 1", wire.PlaceName{Name: "Bay"})
		return err
	}, "POST /api/v1/places/Bay%201/rename", `{"name":"Bay"}`},
	{func(c *client.Client) error {
		_, err := c.MovePlace(ctx, "Bay 1", wire.PlaceMove{})
		return err
	}, "POST /api/v1/places/Bay%201/move", `{"to":""}`},
	{func(c *client.Client) error {
		_, err := c.GivePlace(ctx, "Bay 1", wire.PlacePerson{Person: "Tech A"})
		return err
	}, "POST /api/v1/places/Bay%201/whose", `{"person":"Tech A"}`},
	{func(c *client.Client) error {
		_, err := c.PhotographPlace(ctx, "Bay 1", wire.PlacePhoto{SHA256: "ab"})
		return err
	}, "POST /api/v1/places/Bay%201/photo", `{"sha256":"ab"}`},
	{func(c *client.Client) error { _, err := c.ClosePlace(ctx, "Bay 1"); return err }, "POST /api/v1/places/Bay%201/close", ""},
	{func(c *client.Client) error {
		_, err := c.Outs(ctx, client.OutQuery{Which: "long out", Place: "Bay 1", Person: "Tech A", Owner: "shop", Limit: 3, Cursor: "c"})
		return err
	}, "GET /api/v1/custody?cursor=c&limit=3&owner=shop&person=Tech+A&place=Bay+1&which=long+out", ""},
	{func(c *client.Client) error { _, err := c.Findings(ctx, 3, "c"); return err }, "GET /api/v1/findings?cursor=c&limit=3", ""},
	{func(c *client.Client) error {
		_, err := c.Jobs(ctx, client.JobQuery{Open: pointer(false), Limit: 3, Cursor: "c"})
		return err
	}, "GET /api/v1/jobs?cursor=c&limit=3&open=false", ""},
	{func(c *client.Client) error { _, err := c.Job(ctx, "10/42"); return err }, "GET /api/v1/jobs/10%2F42", ""},
	{func(c *client.Client) error { _, err := c.OpenJob(ctx, wire.NewJob{Number: "1042"}); return err },
		"POST /api/v1/jobs", `{"number":"1042"}`},
	{func(c *client.Client) error {
		_, err := c.Find(ctx, client.Query{Text: "a&b", Kind: "jack", Place: "Bay 1", Owner: "shop", State: "in place", Person: "Tech A", Gone: true, Limit: 7, Cursor: "c"})
		return err
	}, "GET /api/v1/tools?cursor=c&gone=true&kind=jack&limit=7&owner=shop&person=Tech+A&place=Bay+1&state=in+place&text=a%26b", ""},
	{func(c *client.Client) error {
		_, err := c.Match(ctx, client.MatchQuery{Reading: "KD4?8{B8}2*", Maker: "Brindle", Kind: "jack", Found: "list", Limit: 3})
		return err
	}, "GET /api/v1/match?found=list&kind=jack&limit=3&maker=Brindle&reading=KD4%3F8%7BB8%7D2%2A", ""},
	{func(c *client.Client) error { _, err := c.Find(ctx, client.Query{}); return err }, "GET /api/v1/tools", ""},
	{func(c *client.Client) error {
		_, err := c.Register(ctx, register.New{Change: register.Change{Kind: pointer("jack")}})
		return err
	}, "POST /api/v1/tools", `{"kind":"jack"}`},
	{func(c *client.Client) error { _, _, err := c.Tool(ctx, "00E-KM5"); return err }, "GET /api/v1/tools/00E-KM5", ""},
	{func(c *client.Client) error {
		_, err := c.ChangeTool(ctx, "00E-KM5", etag, map[string]any{"notes": nil})
		return err
	}, "PATCH /api/v1/tools/00E-KM5", `{"notes":null}`},
	{func(c *client.Client) error { _, err := c.History(ctx, "00E-KM5", 5, ""); return err },
		"GET /api/v1/tools/00E-KM5/history?limit=5", ""},
	{func(c *client.Client) error { _, err := c.Take(ctx, "00E-KM5", wire.Take{To: "Tech A"}); return err },
		"POST /api/v1/tools/00E-KM5/take", `{"to":"Tech A"}`},
	{func(c *client.Client) error { _, err := c.Return(ctx, "00E-KM5", wire.Return{}); return err },
		"POST /api/v1/tools/00E-KM5/return", `{}`},
	{func(c *client.Client) error {
		_, err := c.Handover(ctx, "00E-KM5", wire.Handover{To: "Tech B"})
		return err
	}, "POST /api/v1/tools/00E-KM5/handover", `{"to":"Tech B"}`},
	{func(c *client.Client) error {
		_, err := c.Undo(ctx, "00E-KM5", wire.Undo{Since: "2026-11-25T09:00:00Z"})
		return err
	}, "POST /api/v1/tools/00E-KM5/undo", `{"since":"2026-11-25T09:00:00Z"}`},
	{func(c *client.Client) error {
		_, err := c.Away(ctx, "00E-KM5", wire.Away{To: "Lab", For: "repair"})
		return err
	}, "POST /api/v1/tools/00E-KM5/away", `{"to":"Lab","for":"repair"}`},
	{func(c *client.Client) error { _, err := c.Presets(ctx); return err }, "GET /api/v1/presets", ""},
	{func(c *client.Client) error {
		_, err := c.Calibrate(ctx, "00E-KM5", wire.Calibrate{AsLeft: "cw:40=40"})
		return err
	}, "POST /api/v1/tools/00E-KM5/calibrate", `{"as_left":"cw:40=40"}`},
	{func(c *client.Client) error {
		_, err := c.Bench(ctx, "00E-KM5", wire.Bench{Standard: "00F-LN6", At: []string{"cw:40=40"}})
		return err
	}, "POST /api/v1/tools/00E-KM5/bench", `{"standard":"00F-LN6","at":["cw:40=40"]}`},
	{func(c *client.Client) error { _, err := c.Calibrations(ctx, "00E-KM5"); return err }, "GET /api/v1/tools/00E-KM5/calibrations", ""},
	{func(c *client.Client) error { _, err := c.IntervalAdvice(ctx, "00E-KM5"); return err }, "GET /api/v1/tools/00E-KM5/advice", ""},
	{func(c *client.Client) error { return c.Drift(ctx, "00E-KM5", io.Discard) }, "GET /api/v1/tools/00E-KM5/drift", ""},
	{func(c *client.Client) error { return c.Chart(ctx, "00E-KM5", "A-1", io.Discard) }, "GET /api/v1/tools/00E-KM5/chart?calibration=A-1", ""},
	{func(c *client.Client) error { return c.Adapter(ctx, "00E-KM5", "80 N·m", "50mm", "45deg", io.Discard) }, "GET /api/v1/tools/00E-KM5/adapter?angle=45deg&crowfoot=50mm&target=80+N%C2%B7m", ""},
	{func(c *client.Client) error {
		_, err := c.ReadyFor(ctx, "00E-KM5", wire.Ask{Target: "108 N·m", Limits: "100..116", NotSafety: true})
		return err
	}, "GET /api/v1/tools/00E-KM5/ready?limits=100..116&not_safety=true&target=108+N%C2%B7m", ""},
	{func(c *client.Client) error {
		_, err := c.ReadyTools(ctx, wire.Ask{Target: "80 ft-lb", Crowfoot: "50mm", Angle: "45deg"})
		return err
	}, "GET /api/v1/ready?angle=45deg&crowfoot=50mm&target=80+ft-lb", ""},
	{func(c *client.Client) error {
		_, err := c.Tighten(ctx, "00E-KM5", wire.Tighten{Ask: wire.Ask{Target: "108 N·m"}, Job: "1042", Fastener: "nuts", Count: 5})
		return err
	}, "POST /api/v1/tools/00E-KM5/tighten", `{"target":"108 N·m","job":"1042","fastener":"nuts","count":5}`},
	{func(c *client.Client) error {
		_, err := c.Measure(ctx, "00E-KM5", wire.Measure{Ask: wire.Ask{Target: "26.1 mm"}, Job: "1042", What: "rotor"})
		return err
	}, "POST /api/v1/tools/00E-KM5/measure", `{"target":"26.1 mm","job":"1042","what":"rotor"}`},
	{func(c *client.Client) error { _, err := c.SignUse(ctx, "V-1", wire.Sign{Why: "x"}); return err }, "POST /api/v1/uses/V-1/sign", `{"why":"x"}`},
	{func(c *client.Client) error { _, err := c.UsesOn(ctx, "1042"); return err }, "GET /api/v1/jobs/1042/uses", ""},
	{func(c *client.Client) error { _, err := c.Fasteners(ctx); return err }, "GET /api/v1/fasteners", ""},
	{func(c *client.Client) error { _, err := c.Back(ctx, "00E-KM5", wire.Back{}); return err },
		"POST /api/v1/tools/00E-KM5/back", `{}`},
	{func(c *client.Client) error {
		_, err := c.Wrong(ctx, "00E-KM5", wire.Wrong{What: "dropped"})
		return err
	},
		"POST /api/v1/tools/00E-KM5/wrong", `{"what":"dropped"}`},
	{func(c *client.Client) error {
		_, err := c.Clear(ctx, "00E-KM5", wire.Clear{Why: "checked"})
		return err
	},
		"POST /api/v1/tools/00E-KM5/clear", `{"why":"checked"}`},
	{func(c *client.Client) error {
		_, err := c.Attach(ctx, "00E-KM5", []wire.Attach{{Kind: "plate", SHA256: "ab"}})
		return err
	}, "POST /api/v1/tools/00E-KM5/evidence", `{"evidence":[{"kind":"plate","sha256":"ab"}]}`},
	{func(c *client.Client) error {
		_, err := c.Upload(ctx, "ab", "plate.jpg", "image/jpeg", 5, open("bytes"))
		return err
	}, "PUT /api/v1/evidence/ab", "bytes"},
	{func(c *client.Client) error { _, err := c.Issue(ctx, 33); return err }, "POST /api/v1/numbers", `{"count":33}`},
	{func(c *client.Client) error {
		return c.Label(ctx, "00E-KM5", url.Values{"format": {"png"}, "dpi": {"300"}}, io.Discard)
	}, "GET /api/v1/labels/00E-KM5?dpi=300&format=png", ""},
	{func(c *client.Client) error {
		return c.Export(ctx, "csv", url.Values{"raw": {"1"}}, io.Discard)
	}, "GET /api/v1/tools/export?format=csv&raw=1", ""},
	{func(c *client.Client) error {
		_, err := c.Import(ctx, url.Values{"dry_run": {"true"}}, client.TypeCSV, 5, open("kind\n"))
		return err
	}, "POST /api/v1/imports?dry_run=true", "kind\n"},
	{func(c *client.Client) error {
		return c.LabelSheet(ctx, []string{"00E-KM5", "00F-1AB"}, url.Values{"start": {"4"}}, io.Discard)
	}, "GET /api/v1/labels?number=00E-KM5&number=00F-1AB&start=4", ""},
	{func(c *client.Client) error { _, err := c.FreeNumbers(ctx); return err }, "GET /api/v1/numbers?limit=200", ""},
	{func(c *client.Client) error {
		return c.Print(ctx, "place", url.Values{"name": {"Bay 1/Cart"}, "format": {"pdf"}}, io.Discard)
	}, "GET /api/v1/prints/place?format=pdf&name=Bay+1%2FCart", ""},
	{func(c *client.Client) error { _, err := c.LabelAgain(ctx, "00E-KM5", wire.LabelAgain{}); return err },
		"POST /api/v1/tools/00E-KM5/label", `{}`},
	{func(c *client.Client) error {
		_, err := c.Join(ctx, "00E-KM5", wire.Join{Number: "00F-1AB"})
		return err
	}, "POST /api/v1/tools/00E-KM5/join", `{"number":"00F-1AB"}`},
	{func(c *client.Client) error {
		_, err := c.JoinSerial(ctx, "T/00F-1AB", wire.JoinSerial{Serial: "KD 2", Maker: "Brindle"})
		return err
	}, "POST /api/v1/numbers/T%2F00F-1AB/join", `{"serial":"KD 2","maker":"Brindle"}`},
	{func(c *client.Client) error { _, err := c.Tokens(ctx); return err }, "GET /api/v1/tokens", ""},
	{func(c *client.Client) error {
		_, err := c.AddToken(ctx, wire.NewToken{Name: "script", Role: "viewer"})
		return err
	}, "POST /api/v1/tokens", `{"name":"script","role":"viewer"}`},
	{func(c *client.Client) error { _, err := c.RevokeToken(ctx, "t1"); return err }, "POST /api/v1/tokens/t1/revoke", ""},
	{func(c *client.Client) error {
		_, err := c.Enroll(ctx, wire.NewEnrolment{Viewer: "Adjuster", Until: "2026-12-24"})
		return err
	}, "POST /api/v1/enrolments", `{"viewer":"Adjuster","until":"2026-12-24"}`},
	{func(c *client.Client) error { _, err := c.Devices(ctx); return err }, "GET /api/v1/devices", ""},
	{func(c *client.Client) error { _, err := c.RevokeDevice(ctx, "D-1"); return err }, "POST /api/v1/devices/D-1/revoke", ""},
	{func(c *client.Client) error { _, err := c.DatedCheckpoint(ctx); return err }, "POST /api/v1/checkpoints", `{"time_stamp":true}`},
	{func(c *client.Client) error { _, err := c.Verify(ctx, wire.Verify{Part: "3/10"}); return err },
		"POST /api/v1/verify", `{"part":"3/10"}`},
	{func(c *client.Client) error { _, err := c.Clock(ctx); return err }, "GET /api/v1/clock", ""},
	{func(c *client.Client) error { _, err := c.ConfirmClock(ctx); return err }, "POST /api/v1/clock/confirm", ""},
	{func(c *client.Client) error { _, err := c.Chores(ctx); return err }, "POST /api/v1/chores", ""},
}

func TestRoutes(t *testing.T) {
	for _, x := range routes {
		t.Run(x.line, func(t *testing.T) {
			c, seen := recorded("{}")
			if err := x.call(c); err != nil {
				t.Fatal(err)
			}
			if len(*seen) != 1 {
				t.Fatalf("%d requests", len(*seen))
			}
			got := (*seen)[0]
			if got.line != x.line || got.body != x.body {
				t.Errorf("asked %s %s\nwant  %s %s", got.line, got.body, x.line, x.body)
			}
			checkHeader(t, got, x.body)
		})
	}
}

// checkHeader holds a request against what every request of its method carries.
func checkHeader(t *testing.T, got asked, body string) {
	t.Helper()
	method, _, _ := strings.Cut(got.line, " ")
	key := got.header.Get("Idempotency-Key")
	if acts := method == "POST" || method == "PATCH"; acts != (len(key) >= 20 && key[0] == '"' && key[len(key)-1] == '"') {
		t.Errorf("%s under the key %s", method, key)
	}
	want := map[string]string{"POST": "application/json", "PATCH": "application/merge-patch+json", "PUT": "image/jpeg"}[method]
	if strings.HasPrefix(got.line, "POST /api/v1/imports?") {
		want = client.TypeCSV
	}
	if body == "" {
		want = ""
	}
	if typed := got.header.Get("Content-Type"); typed != want {
		t.Errorf("%s of %q", method, typed)
	}
	if match := got.header.Get("If-Match"); (method == "PATCH") != (match == etag) {
		t.Errorf("%s with If-Match %q", method, match)
	}
	if got.header.Get("Authorization") != "" {
		t.Error("a token that nobody gave")
	}
}

func TestTheETagOfWhatWasReadComesBack(t *testing.T) {
	c, _ := recorded(`{"number":"00E-KM5","rev":3}`)
	tool, got, err := c.Tool(t.Context(), "00E-KM5")
	if err != nil || got != etag || tool.Number != "00E-KM5" || tool.Rev != 3 {
		t.Errorf("%+v, %s, %v", tool, got, err)
	}
}

func TestTheTokenIsSent(t *testing.T) {
	for base, want := range map[string]string{"": "pawl.invalid", "https://tools.example/": "tools.example", "https://tools.example/shop": "tools.example"} {
		var host, path, authorization string
		h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			host, path, authorization = r.Host, r.URL.Path, r.Header.Get("Authorization")
			fmt.Fprint(w, "{}")
		})
		c := client.New(base, client.InProcess{Handler: h}, "secret")
		if _, err := c.Whoami(t.Context()); err != nil {
			t.Fatal(err)
		}
		if host != want || !strings.HasSuffix(path, "/api/v1/whoami") || strings.Contains(path, "//") || authorization != "Bearer secret" {
			t.Errorf("base %q: %s%s with %q", base, host, path, authorization)
		}
	}
}

// The name of a file travels as RFC 8187 section 3.2.1 has it; the second
// example is that of its section 3.2.3.
func TestFileNames(t *testing.T) {
	for name, want := range map[string]string{
		"plate.jpg": "attachment; filename*=UTF-8''plate.jpg",
		"€ rates":   "attachment; filename*=UTF-8''%E2%82%AC%20rates",
		`a"b;c'd*%`: "attachment; filename*=UTF-8''a%22b%3Bc%27d%2A%25",
		"a\r\nb":    "attachment; filename*=UTF-8''a%0D%0Ab",
		"":          "",
	} {
		c, seen := recorded("{}")
		if _, err := c.Upload(t.Context(), "ab", name, "", -1, open("x")); err != nil {
			t.Fatal(err)
		}
		got := (*seen)[0].header
		if got.Get("Content-Disposition") != want || got.Get("Content-Type") != "application/octet-stream" {
			t.Errorf("%q: %q of %q", name, got.Get("Content-Disposition"), got.Get("Content-Type"))
		}
	}
}
