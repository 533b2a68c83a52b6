package model

import (
	"context"
	"testing"

	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
)

func p[T any](v T) *T { return &v }

func TestSmoke(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, Options{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	by := By{Actor: Actor{Role: people.Manager, Via: people.ViaLocal}}
	set, err := s.ChangeSettings(ctx, by, 1, settings.Change{Zone: p("America/Chicago"), Name: p("Demo garage")})
	t.Log(set, err)
	pp, err := s.AddPerson(ctx, by, NewPerson{"Tech A", "technician"})
	t.Log(pp, err)
	pl, err := s.AddPlace(ctx, by, "Bay 1/Cart")
	t.Log(pl, err)
	d, err := s.Register(ctx, by, register.New{SerialAgain: "KD408B217", Change: register.Change{Kind: p("impact wrench"), Serial: p("KD408B217"), Maker: p("Brindle"), Price: p("289.00"), Owner: p("Tech A"), Place: p("Cart")}})
	t.Log(d, err)
	d, err = s.Take(ctx, by, d.Number.String(), Take{To: "Tech A", Job: "1042", Due: "2027-11-30T17:00"})
	t.Log(d, err)
	_, err = s.Take(ctx, by, d.Number.String(), Take{To: "Tech A"})
	t.Log(err)
	v, err := s.Tool(ctx, by, d.Number.String())
	t.Logf("%+v %v", v, err)
	rows, next, err := s.Find(ctx, by, FindQuery{Text: "kd408"})
	t.Log(rows, next, err)
	c, err := s.Checkpoint(ctx, by)
	t.Log(c, err)
	d, err = s.Return(ctx, by, d.Number.String(), Return{})
	t.Log(d, err)
	ver, err := s.Verify(ctx, by, VerifyQuery{Against: []string{c.Note}})
	t.Logf("%+v %v", ver, err)
	h, next, err := s.History(ctx, by, d.Number.String(), 0, "")
	t.Log(len(h), next, err)
}
