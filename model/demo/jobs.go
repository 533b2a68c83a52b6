package demo

import (
	"time"

	"pawl/model"
)

// Places in the stock of what goes to the last jobs.
const (
	theSet      = 20  // sockets, with a photo of all of them
	anotherSet  = 22  // sockets
	theDrivers  = 123 // screwdrivers
	theBreaker  = 67  // a breaker bar
	theLight    = 103 // a work light that nobody scanned out
	theHandedOn = 60  // a ratchet
)

// jobs are the last ones: one closed over what was open, one with findings, one that is
// empty, and the one of the errand, whose set nobody has looked at yet.
func (b *builder) jobs() error {
	take := func(i int, to, job string) {
		b.do("take to a job", func() error {
			_, err := b.shop.Take(b.ctx, b.by, b.numbers[i], model.Take{To: to, Job: job})
			return err
		})
		b.clock.pass(6 * time.Minute)
	}
	give := func(i int, in model.Return) {
		b.do("bring back from a job", func() error {
			_, err := b.shop.Return(b.ctx, b.by, b.numbers[i], in)
			return err
		})
		b.clock.pass(6 * time.Minute)
	}
	b.opened("1039", "green hatchback", "yes")
	take(theBreaker, "Tech A", "1039")
	b.do("close it over what is open", func() error {
		_, err := b.shop.CloseJob(b.ctx, b.by, "1039", model.CloseJob{Override: "the bar is in the van, which comes back on Friday"})
		return err
	})
	b.opened("1040", "red pickup", "unknown")
	take(anotherSet, "Tech C", "1040")
	take(theDrivers, "Tech C", "1040")
	take(theHandedOn, "Tech C", "1040")
	give(anotherSet, model.Return{Missing: []string{"10 mm socket"}})
	give(theDrivers, model.Return{Broken: "cross", FragmentMissing: true, AllThere: true})
	b.do("hand on to another job", func() error {
		_, err := b.shop.Handover(b.ctx, b.by, b.numbers[theHandedOn], model.Handover{To: "Tech B", Job: "1042"})
		return err
	})
	b.do("scan what came back", func() error {
		_, err := b.shop.LookAtJob(b.ctx, b.by, "1040", model.LookedAtJob{Before: "engine", Scanned: []string{b.numbers[theLight]}})
		return err
	})
	b.opened("1041", "blue van", "no")
	take(theSet, "Tech B", "1042")
	give(theSet, model.Return{})
	b.do("keep the key", func() error {
		_, err := b.shop.Hold(b.ctx, b.by, "1042", "wheel-lock key")
		return err
	})
	return b.err
}

func (b *builder) opened(number, vehicle, safety string) {
	b.do("open a job", func() error {
		_, err := b.shop.OpenJob(b.ctx, b.by, model.NewJob{Number: number, Vehicle: &vehicle, Safety: &safety})
		return err
	})
	b.clock.pass(3 * time.Minute)
}
