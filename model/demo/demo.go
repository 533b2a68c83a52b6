// Package demo builds an invented shop to look at: a two-bay garage in an
// invented coastal town. People, makers, models, serials, prices and vehicles
// are made up, photos and papers are drawn by the program, and clock and chance
// are the demo's own: the same seed gives the same shop.
package demo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"sync"
	"time"

	"pawl/model"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
)

// Clock is the demo's own: it moves only when the story does.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// NewClock starts on the morning of the story's first day.
func NewClock() *Clock { return &Clock{now: morning(0)} }

// morning is when work begins on a day of the story: 8:05 in its town, in
// summer.
func morning(day int) time.Time { return time.Date(2025, 5, 5+day, 13, 5, 0, 0, time.UTC) }

// The story runs for eighteen months. In its first week the drawers are gone
// through; the impact wrench of the errand is bought near its end.
const (
	lastDay   = 560
	wrenchDay = 515
	perDay    = 24 // tools registered on a day of the first week
)

// Now gives the time in the story.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *Clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// Chance is an endless stream drawn from a seed: SHA-256 of the seed and a
// counter. It is no secret, and is for the demo only.
type Chance struct {
	seed string
	n    uint64
	rest []byte
}

// NewChance gives the stream of a seed.
func NewChance(seed string) *Chance { return &Chance{seed: seed} }

func (c *Chance) Read(p []byte) (int, error) {
	for i := range p {
		if len(c.rest) == 0 {
			block := sha256.Sum256(binary.BigEndian.AppendUint64([]byte(c.seed), c.n))
			c.n, c.rest = c.n+1, block[:]
		}
		p[i], c.rest = c.rest[0], c.rest[1:]
	}
	return len(p), nil
}

// Built says what the demo shop holds, for those who show it around.
type Built struct {
	Wrench string // number of the impact wrench of the errand
	Tools  int
}

// Build fills an empty shop whose clock is c. It ends with an impact wrench
// that was registered, labeled, taken and returned.
func Build(ctx context.Context, s *model.Shop, c *Clock) (Built, error) {
	b := builder{ctx: ctx, shop: s, clock: c, by: model.By{Actor: model.Actor{Role: people.Manager, Via: people.ViaLocal}}}
	b.setUp()
	all := stock()
	for i, t := range all[1:] {
		b.until(i / perDay)
		b.register(t)
	}
	b.days(all[0])
	return Built{Wrench: b.wrench, Tools: len(b.numbers)}, b.err
}

// builder runs the story and keeps the first error.
type builder struct {
	ctx     context.Context
	shop    *model.Shop
	clock   *Clock
	by      model.By
	numbers []string
	wrench  string
	looked  int // how many of the looks are done
	err     error
}

// until lets the night pass, where it is not that day yet.
func (b *builder) until(day int) {
	if at := morning(day); at.After(b.clock.Now()) {
		b.clock.pass(at.Sub(b.clock.Now()))
	}
}

func (b *builder) do(what string, fn func() error) {
	if b.err != nil {
		return
	}
	if err := fn(); err != nil {
		b.err = fmt.Errorf("demo: %s: %w", what, err)
	}
}

func (b *builder) setUp() {
	b.do("settings", func() error {
		set, err := b.shop.Settings(b.ctx)
		if err != nil {
			return err
		}
		name, zone := "Gull Lane Garage", "America/Chicago"
		_, err = b.shop.ChangeSettings(b.ctx, b.by, set.Rev, settings.Change{Name: &name, Zone: &zone})
		return err
	})
	for _, p := range []model.NewPerson{{Name: "Maren Oake", Role: "manager"}, {Name: "Tech A", Role: "technician"},
		{Name: "Tech B", Role: "technician"}, {Name: "Tech C", Role: "technician"}} {
		b.do("people", func() error { _, err := b.shop.AddPerson(b.ctx, b.by, p); return err })
	}
	for _, path := range []string{"Bay 1/Cart", "Bay 1/Wall board", "Bay 2/Cart", "Bay 2/Lift side", "Stockroom/Drawer 1", "Stockroom/Drawer 2", "Stockroom/Drawer 3", "Van"} {
		b.do("places", func() error { _, err := b.shop.AddPlace(b.ctx, b.by, path); return err })
	}
}

// register adds one tool with its photos and papers and gives its number.
func (b *builder) register(t tool) (number string) {
	b.do("register "+t.serial, func() error {
		in := t.entry()
		for _, p := range t.pictures() {
			sha, err := b.upload(p)
			if err != nil {
				return err
			}
			in.Evidence = append(in.Evidence, register.Attach{Kind: p.kind, SHA256: sha, Name: p.name})
		}
		done, err := b.shop.Register(b.ctx, b.by, in)
		number = done.Number.String()
		b.numbers = append(b.numbers, number)
		return err
	})
	b.clock.pass(7 * time.Minute)
	return number
}

func (b *builder) upload(p picture) (string, error) { return b.uploadAs(b.by, p) }

func (b *builder) uploadAs(by model.By, p picture) (string, error) {
	sum := sha256.Sum256(p.bytes)
	sha := hex.EncodeToString(sum[:])
	_, _, err := b.shop.StoreOriginal(b.ctx, by, model.Upload{SHA256: sha, Name: p.name, MediaType: p.media, Size: int64(len(p.bytes))}, bytes.NewReader(p.bytes))
	return sha, err
}

// days is the custody of eighteen months: on each working day a tool or two go
// out to a job and come back. The wrench is bought on the way.
func (b *builder) days(wrench tool) {
	b.until(firstRound)
	b.firstCertificates()
	for day := 7; day < lastDay && b.err == nil; day++ {
		if w := morning(day).Weekday(); w == time.Saturday || w == time.Sunday {
			continue
		}
		b.until(day)
		if day == secondRound {
			b.secondCertificates()
		}
		if b.wrench == "" && day >= wrenchDay {
			b.wrench = b.register(wrench)
		}
		b.lookOver(day)
		b.work(day)
		for turn := range 1 + day%5/4 {
			b.borrow(day, b.numbers[(day*7+turn*31)%len(b.numbers)])
		}
	}
	b.until(lastDay)
	b.ending(b.wrench)
}

func (b *builder) borrow(day int, number string) {
	to := []string{"Tech A", "Tech B", "Tech C"}[day%3]
	b.do("take", func() error {
		_, err := b.shop.Take(b.ctx, b.by, number, model.Take{To: to, Job: fmt.Sprint(500 + day)})
		return err
	})
	b.clock.pass(52 * time.Minute)
	b.do("return", func() error {
		_, err := b.shop.Return(b.ctx, b.by, number, model.Return{})
		return err
	})
	b.clock.pass(11 * time.Minute)
}

// act is one act of the last day, with what it is called where it fails.
type act struct {
	what string
	do   func() error
}

// ending is the last day: what happens to tools, then what is entered of all of them.
func (b *builder) ending(wrench string) {
	for _, a := range append(b.handled(wrench), b.entered()...) {
		b.do(a.what, a.do)
		b.clock.pass(25 * time.Minute)
	}
}

// handled is what happens to tools on the last day.
func (b *builder) handled(wrench string) []act {
	vehicle, safety := "gray wagon", "yes"
	return []act{
		{"job", func() error {
			_, err := b.shop.OpenJob(b.ctx, b.by, model.NewJob{Number: "1042", Vehicle: &vehicle, Safety: &safety})
			return err
		}},
		{"take the wrench", func() error {
			_, err := b.shop.Take(b.ctx, b.by, wrench, model.Take{To: "Tech A", Job: "1042"})
			return err
		}},
		{"return the wrench", func() error {
			_, err := b.shop.Return(b.ctx, b.by, wrench, model.Return{})
			return err
		}},
		{"leave one out", func() error {
			_, err := b.shop.Take(b.ctx, b.by, b.numbers[2], model.Take{To: "Tech B", Job: "1042"})
			return err
		}},
		{"drop one", func() error {
			_, err := b.shop.Wrong(b.ctx, b.by, b.numbers[1], model.Wrong{What: "dropped", Note: "off the cart, onto concrete"})
			return err
		}},
		{"send one away", func() error {
			_, err := b.shop.Away(b.ctx, b.by, b.numbers[5], model.Away{To: "Tidewater Metrology", For: "calibration"})
			return err
		}},
		{"send one away for good", func() error {
			_, err := b.shop.Gone(b.ctx, b.by, b.numbers[40], model.Gone{Why: "scrapped", Note: "ratchet head cracked"})
			return err
		}},
		{"exchange one", func() error {
			_, err := b.shop.Swap(b.ctx, b.by, b.numbers[9], model.Swap{Serial: "XC-77120", SerialAgain: "XC-77120"})
			return err
		}},
	}
}

// entered is what is looked over and entered on the last day.
func (b *builder) entered() []act {
	told := func(enter func()) func() error {
		return func() error {
			enter()
			return b.err
		}
	}
	return []act{
		{"tighten and check", told(func() { b.tighten(); b.bench() })},
		{"inspections", told(b.inspections)},
		{"settle", b.settle},
		{"jobs", b.jobs},
		{"count", told(b.count)},
		{"worth", told(b.worth)},
		{"break-in", told(b.breakIn)},
		{"checkpoint", func() error { _, err := b.shop.Checkpoint(b.ctx, b.by); return err }},
	}
}
