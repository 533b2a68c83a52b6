package views

import (
	"context"

	"pawl/model/fault"
)

// largePixels is the size from which a picture is decoded alone.
const largePixels = 24_000_000

// gate lets two decodings through at once.
type gate struct {
	turns chan struct{}
	large chan struct{} // who wants both turns, one at a time
}

func newGate() gate {
	return gate{turns: make(chan struct{}, 2), large: make(chan struct{}, 1)}
}

// enter waits for a turn, or for both where the picture is large. The caller
// calls leave when it no longer holds what it decoded.
func (g gate) enter(ctx context.Context, pixels int64) (leave func(), err error) {
	if pixels <= largePixels {
		if err := take(ctx, g.turns); err != nil {
			return nil, err
		}
		return func() { <-g.turns }, nil
	}
	if err := take(ctx, g.large); err != nil {
		return nil, err
	}
	for n := range cap(g.turns) {
		if err := take(ctx, g.turns); err != nil {
			for range n {
				<-g.turns
			}
			<-g.large
			return nil, err
		}
	}
	return func() {
		for range cap(g.turns) {
			<-g.turns
		}
		<-g.large
	}, nil
}

func take(ctx context.Context, turn chan<- struct{}) error {
	select {
	case turn <- struct{}{}:
		return nil
	case <-ctx.Done():
		return fault.New(fault.Unavailable, "nobody waits for the picture any more").WithCause(ctx.Err())
	}
}
