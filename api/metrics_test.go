package api

import (
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
)

// metricsText is the lines of a look at the metrics, over a real connection.
func metricsText(t *testing.T, m *Metrics) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- m.Serve(ctx, listener, slog.New(slog.DiscardHandler)) }()
	defer func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	at := "http://" + listener.Addr().String()
	answer, err := http.Get(at + MetricsPath)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	// Since Prometheus 3.0 a missing or wrong type makes a look fail (its documentation,
	// "Content negotiation").
	if kind := answer.Header.Get("Content-Type"); err != nil || answer.StatusCode != 200 || !strings.HasPrefix(kind, "text/plain; version=0.0.4") {
		t.Fatalf("%d %s, %v", answer.StatusCode, kind, err)
	}
	if other, err := http.Get(at + "/api/v1/tools"); err != nil || other.StatusCode != 404 {
		t.Errorf("the shop is at the address of the figures: %v, %v", other, err)
	} else {
		other.Body.Close()
	}
	return string(text)
}

// What is counted is named by its route, and nothing that was asked is in it.
func TestMetrics(t *testing.T) {
	s := openShop(t)
	m := NewMetrics(s.Shop, "1.2.3")
	s.handler = New(s.Shop, Options{Metrics: m, Chance: chance(4)})
	a := s.manager()
	for range 3 {
		a.get("/tools/000-01Y").refused(http.StatusNotFound)
	}
	a.get("/tools?text=KD408").want(http.StatusOK)
	a.send("BREW", "/secret-pot", nil)
	crowdedAt := httptest.NewRequest("GET", Prefix+"/tools", nil)
	s.handler.ServeHTTP(httptest.NewRecorder(), crowdedAt.WithContext(context.WithValue(crowdedAt.Context(), turnedAwayKey{}, crowded)))
	said := metricsText(t, m)
	for _, want := range []string{
		`pawl_http_request_duration_seconds_count{method="GET",route="/api/v1/tools/:number",status="404"} 3`,
		`pawl_http_request_duration_seconds_count{method="GET",route="/api/v1/tools",status="200"} 1`,
		`pawl_http_request_duration_seconds_count{method="other",route="none",status="`,
		`pawl_http_requests_turned_away_total{why="crowded"} 1`, "pawl_http_requests_running 0", `pawl_build_info{version="1.2.3"} 1`,
		"pawl_ledger_lines ", "pawl_disk_free_bytes ", "pawl_clock_doubtful 0", "go_goroutines ",
	} {
		if !strings.Contains(said, "\n"+want) {
			t.Errorf("no %s", want)
		}
	}
	for _, not := range []string{"KD408", "000-01Y", "secret", "BREW", "pawl_last_backup"} { // none was made
		if strings.Contains(said, not) {
			t.Errorf("%q is in the figures", not)
		}
	}
	for _, line := range strings.Split(said, "\n") { // names and units as its documentation asks, "Metric and label naming"
		if name, _, _ := strings.Cut(line, "{"); strings.HasPrefix(line, "pawl_") && !regexp.MustCompile(`^pawl_[a-z_]+( .*)?$`).MatchString(name) {
			t.Errorf("the name of %s", line)
		}
	}
}

// A set of requests full of secrets leaves none of them in a log of JSON at its most
// talkative, whether they are granted, refused or fail inside.
func TestNoSecretIsLogged(t *testing.T) {
	s := openShop(t)
	var out lines
	logger := slog.New(slog.NewJSONHandler(&out, &slog.HandlerOptions{Level: slog.LevelDebug}))
	s.handler = New(s.Shop, Options{Log: logger, Chance: chance(5)})
	m := s.manager()
	var token wire.Token
	m.post("/tokens", wire.NewToken{Name: "script", Role: string(people.Technician)}).want(http.StatusCreated).into(&token)
	person := s.person("Tech Zebra", people.Technician)
	tool := person.registered(aTool("QX408B217"))
	photo := aPhoto(t, 24, asPNG)
	person.upload(photo, "Content-Disposition: attachment; filename=hunter2.png").want(http.StatusCreated)
	trace := "traceparent: 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"
	known := asker{shop: s, secret: token.Secret}
	known.get("/tools/"+tool.Number, trace, "Idempotency-Key: key-hunter2", "Cookie: pawl=cookie-hunter2").want(http.StatusOK)
	asker{shop: s, secret: "pawl_hunter2"}.get("/tools?text=QX408B217", trace).refused(http.StatusUnauthorized)
	m.send(http.MethodGet, EnterPath+"link-hunter2", nil, trace)
	m.post("/tools", `{"kind":"hunter2","serial":7}`).refused(http.StatusUnprocessableEntity)
	m.send(http.MethodGet, "/api/v1/hunter2?hunter2=hunter2", nil, "User-Agent: hunter2", "Referer: http://hunter2", "X-Forwarded-For: hunter2")
	broken := New(nil, Options{Log: logger, Chance: chance(6)})
	asker{shop: &shop{TB: t, handler: broken}, actor: &atComputer}.post("/people", wire.NewPerson{Name: "hunter2", Role: "manager"}, trace).refused(http.StatusInternalServerError)
	said := out.take()
	for _, not := range []string{"hunter2", token.Secret, "Zebra", "QX408", tool.Number, shaOf(photo)} {
		if strings.Contains(said, not) {
			t.Errorf("%q is in the log", not)
		}
	}
	if n := strings.Count(said, `"msg":"request"`); n < 9 {
		t.Errorf("only %d requests are in the log:\n%s", n, said)
	}
	if n := strings.Count(said, `"trace":"4bf92f3577b34da6a3ce929d0e0e4736"`); n != 5 { // four requests, and one panic among them
		t.Errorf("%d lines tell their trace, want 5:\n%s", n, said)
	}
	for _, line := range strings.Split(strings.TrimSpace(said), "\n") {
		if !strings.Contains(line, `"request":"`) {
			t.Errorf("a line without the id of its request: %s", line)
		}
	}
}
