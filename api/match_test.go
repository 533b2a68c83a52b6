package api

import (
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/register"
)

func (a asker) marked(maker, serial string) string {
	kind := "impact wrench"
	in := register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Maker: &maker, Serial: &serial}}
	var done wire.Registered
	a.post("/tools", in).want(http.StatusCreated).into(&done)
	return done.Number
}

func TestMatch(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.marked("Brindle", "KD408B217")
	m.marked("Brindle", "KD51C8114")
	m.marked("Torvik", "93300127")
	at := func(more string) string { return "/match?reading=" + url.QueryEscape("KD4?8{B8}2*") + more }
	var got wire.Match
	m.get(at("")).want(http.StatusOK).into(&got)
	sum := got.NoneOfThese + got.Others
	for _, c := range got.Candidates {
		sum += c.Posterior
	}
	if c := got.Candidates[0]; c.Number != number || c.Serial != "KD408B217" || c.State != "in place" || c.Posterior < 0.9 || math.Abs(sum-1) > 1e-9 || got.Registered != 3 || got.NoneBefore != 0.2 {
		t.Errorf("%+v", got)
	}
	m.get(at("&maker=Torvik&kind=impact+wrench&found=others&limit=1")).want(http.StatusOK).into(&got)
	if got.Registered != 1 || got.NoneOfThese < 0.99 || got.Found != "others" {
		t.Errorf("of another maker: %+v", got)
	}
	for _, bad := range []string{"?reading=%3F%3F", "?reading=", "?reading=KD4%23", at("&found=street")[6:], at("&maker=Nobody")[6:], at("&limit=51")[6:]} {
		m.get("/match" + bad).refused(http.StatusUnprocessableEntity)
	}
	m.get("/match?serial=x").refused(http.StatusBadRequest)
}

func TestMatchList(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	first, second := m.marked("Brindle", "KD408B217"), m.marked("Brindle", "KD408B218")
	send := func(list string) reply {
		return m.send(http.MethodPost, Prefix+"/match?found=list", strings.NewReader(list), "Content-Type: text/csv")
	}
	var got wire.MatchList
	send("case no,reading,make\n1,KD408B21?,\n2,KD408B217,Unheard\n3,ZZ9?1234,\n").want(http.StatusOK).into(&got)
	if len(got.Rows) != 3 || len(got.Ignored) != 1 || got.Rows[0].Row != 2 || got.Rows[1].Said == "" {
		t.Fatalf("%+v", got)
	}
	// The first reading fits both; the second takes the one that it names.
	if a, b, c := got.Rows[0].Assigned, got.Rows[1].Assigned, got.Rows[2].Assigned; a == nil || *a != second || b == nil || *b != first || c != nil {
		t.Errorf("assigned %+v", got.Rows)
	}
	send("case,serial\n1,???\n2,KD4#\n").refused(http.StatusUnprocessableEntity)
	send("case,plate\n1,KD4\n").refused(http.StatusUnprocessableEntity)
	send("").refused(http.StatusUnprocessableEntity)
	send("reading\n" + strings.Repeat("KD4?8\n", 2001)).refused(http.StatusRequestEntityTooLarge)
	m.send(http.MethodPost, Prefix+"/match", strings.NewReader("[]"), "Content-Type: application/json").refused(http.StatusUnsupportedMediaType)
}
