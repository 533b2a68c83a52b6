package demo

import (
	"fmt"
	"time"

	"pawl/model"
)

// jobsInDoubt is what was tightened, in its last year, with the wrench that was then
// found out, by the day of the story: one held, two did not, of one nobody can tell.
var jobsInDoubt = map[int]model.Use{
	100: {Ask: model.Ask{Target: "80 N·m", Limits: "72..88"}, Name: "front wheel nuts", Count: 5},
	190: {Ask: model.Ask{Target: "95 N·m", Limits: "90..100"}, Name: "caliper bracket bolts", Count: 2},
	280: {Ask: model.Ask{Target: "40 N·m"}, Name: "drain plug", Count: 1},
	330: {Ask: model.Ask{Target: "60 N·m", Limits: "56..64"}, Name: "strut top nuts", Count: 3},
}

// work takes the wrench that will be found out to a job, and records what was tightened.
func (b *builder) work(day int) {
	use, have := jobsInDoubt[day]
	if !have {
		return
	}
	number, job := b.numbers[foundOut], fmt.Sprint(600+day)
	use.Job, use.Direction = job, "cw"
	b.do("take the wrench that will be found out", func() error {
		_, err := b.shop.Take(b.ctx, b.by, number, model.Take{To: "Tech B", Job: job})
		return err
	})
	b.clock.pass(20 * time.Minute)
	b.do("tighten with it", func() error {
		_, err := b.shop.Tighten(b.ctx, b.by, number, use)
		return err
	})
	b.clock.pass(9 * time.Minute)
	b.do("return it", func() error {
		_, err := b.shop.Return(b.ctx, b.by, number, model.Return{})
		return err
	})
}

// settle does one of the jobs in doubt again, with a wrench that is good.
func (b *builder) settle() error {
	v, err := b.shop.Recheck(b.ctx, b.by, b.numbers[foundOut])
	if err != nil {
		return err
	}
	for _, line := range v.Lines {
		if line.Fastener == jobsInDoubt[190].Name {
			_, err := b.shop.SettleRecheck(b.ctx, b.by, line.ID, model.SettleRecheck{
				Done: "loosened and tightened again as the service information says, 95 N·m", Tool: b.numbers[0]})
			return err
		}
	}
	return fmt.Errorf("the wrench that was found out has no line for %s", jobsInDoubt[190].Name)
}
