package main

import (
	"context"
	"errors"
	"net"
	"net/http"
	"sync"
	"time"

	"pawl/api"
	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model"
	"pawl/model/numbers"
)

// callers is how many act at once.
const callers = 64

// callersRow is many callers over HTTP beside the same server with one commit for each
// request. With testdata/slowsync preloaded the disk is slow, and the goal a tenth.
func callersRow(ctx context.Context, _ string, p *place) ([]measured, error) {
	var own, shared time.Duration
	err := p.reopen(ctx, func() (err error) {
		if own, err = crowd(ctx, p.dir, p.some(callers), 1); err != nil {
			return err
		}
		shared, err = crowd(ctx, p.dir, p.some(callers), 0)
		return err
	})
	return []measured{{what: "64 callers over HTTP, an act", limit: "one commit for each request", ours: shared, least: own, goal: 0.33}}, err
}

// crowd is how long an act takes where each of the callers takes and returns a tool of
// their own, in turn, at a server with so many acts in one commit.
func crowd(ctx context.Context, dir string, tools []numbers.Number, batch int) (each time.Duration, err error) {
	shop, err := model.Open(ctx, model.Options{Dir: dir, Program: "bench", Batch: batch})
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, shop.Close()) }()
	token, err := shop.AddToken(ctx, atComputer, model.NewToken{Name: "bench " + now().Format(time.RFC3339Nano), Role: "manager"})
	if err != nil {
		return 0, err
	}
	person, err := shop.AddPerson(ctx, atComputer, model.NewPerson{Name: "Hand " + now().Format(time.RFC3339Nano), Role: "technician"})
	if err != nil {
		return 0, err
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return 0, err
	}
	serving, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- api.Serve(serving, listener, api.New(shop, api.Options{}), api.ServeOptions{}) }()
	const turns = 10
	took, err := took(func() error {
		c := client.New("http://"+listener.Addr().String(), &http.Transport{MaxIdleConnsPerHost: callers}, token.Secret)
		return together(tools, func(number string) error {
			for range turns {
				if _, err := c.Take(ctx, number, wire.Take{To: person.Name}); err != nil {
					return err
				}
				if _, err := c.Return(ctx, number, wire.Return{}); err != nil {
					return err
				}
			}
			return nil
		})
	})
	stop()
	return took / time.Duration(2*turns*len(tools)), errors.Join(err, <-ended)
}

// together does the same with every tool at once.
func together(tools []numbers.Number, do func(number string) error) error {
	errs := make([]error, len(tools))
	var all sync.WaitGroup
	for i, n := range tools {
		all.Go(func() { errs[i] = do(string(n)) })
	}
	all.Wait()
	return errors.Join(errs...)
}
