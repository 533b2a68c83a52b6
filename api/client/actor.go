package client

import (
	"context"

	"pawl/model/people"
)

// actorKey is of a type that nothing outside this package can make.
type actorKey struct{}

// WithActor puts whoever acts into the context of a request. Only the in-process
// transport does so: the contexts of a request from the network are made by the
// http.Server that received it, which knows no actor, so nothing that is sent
// can put one there. It is exported for tests of handlers.
func WithActor(ctx context.Context, actor people.Actor) context.Context {
	return context.WithValue(ctx, actorKey{}, actor)
}

// ActorFrom returns the actor whom the in-process transport put into the
// context; false for a request from the network.
func ActorFrom(ctx context.Context) (people.Actor, bool) {
	actor, ok := ctx.Value(actorKey{}).(people.Actor)
	return actor, ok
}
