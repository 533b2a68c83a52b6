package demo

import (
	"fmt"
	"time"

	"pawl/model"
)

// The torque wrenches and gauges of the story went to an invented laboratory twice.
// On the second round one wrench was found out: it delivered too little.
const (
	firstRound  = 6
	secondRound = 364
	lab         = "Tidewater Metrology"
	foundOut    = 3 // of the torque wrenches
	wrenches    = 6
)

// scale is what a wrench of the story goes to: large ones and small ones in turn.
func scale(i int) (from, to int) {
	if i%2 == 0 {
		return 40, 200
	}
	return 20, 100
}

// firstCertificates says what the measuring tools must hold, and enters their first
// papers.
func (b *builder) firstCertificates() {
	for i := range wrenches {
		from, to := scale(i)
		b.calibrate(b.numbers[i], model.Calibrate{
			Requirement: &model.Requirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: fmt.Sprintf("%d..%d", from, to), Graduation: "1", GripToDrive: "400 mm"},
			AsFound:     good(i, 0), AsLeft: good(i, 0),
		}, i, firstRound)
	}
}

// secondCertificates are a year later. The last wrench is not back when the story
// ends.
func (b *builder) secondCertificates() {
	for i := range wrenches - 1 {
		in := model.Calibrate{AsFound: good(i, 2), AsLeft: good(i, 1)}
		if i == foundOut {
			in.AsFound, in.Adjusted = low(i), true
		}
		b.calibrate(b.numbers[i], in, 20+i, secondRound)
	}
}

// calibrate enters a certificate of the laboratory, dated four days before.
func (b *builder) calibrate(number string, in model.Calibrate, paper, day int) {
	in.By, in.CertificateNumber, in.Uncertainty, in.Temperature = lab, fmt.Sprintf("T-%04d", 310+paper), "0.7%", "21 °C"
	in.On = morning(day).Add(-4 * 24 * time.Hour).Format(time.DateOnly)
	b.do("calibrate "+number, func() error {
		_, err := b.shop.Calibrate(b.ctx, b.by, number, in)
		return err
	})
	b.clock.pass(4 * time.Minute)
}

// good are readings in both directions that hold; each round and wrench is a little
// different.
func good(i, round int) string { return readings(i, 1-0.001*float64((i+round)%3)) }

// low are those of a wrench that delivers 7 % too little.
func low(i int) string { return readings(i, 0.93) }

func readings(i int, factor float64) (out string) {
	from, to := scale(i)
	for _, direction := range []string{"cw", "ccw"} {
		for _, set := range []int{from, to * 6 / 10, to} {
			for n, spread := range []float64{0, 0.002, -0.002, 0.001, -0.001} {
				value := float64(set) * factor * (1 + spread)
				if n == 0 {
					out += fmt.Sprintf(",%s:%d=%.1f", direction, set, value)
				} else {
					out += fmt.Sprintf(",%.1f", value)
				}
			}
		}
	}
	return out[1:]
}

// tighten are the wheel nuts of the last job: three wheels with a good wrench, one
// with the wrench that was dropped, which holds the job open.
func (b *builder) tighten() {
	for i, wheel := range []string{"front left", "front right", "rear left", "rear right"} {
		number := b.numbers[0]
		if i == 3 {
			number = b.numbers[1]
		}
		b.do("tighten", func() error {
			_, err := b.shop.Tighten(b.ctx, b.by, number, model.Use{
				Ask: model.Ask{Target: "98 N·m", Limits: "88..108", Direction: "cw"}, Job: "1042", Name: wheel + " wheel nuts", Count: 5})
			return err
		})
		b.clock.pass(3 * time.Minute)
	}
}

// bench buys a torque tester with its paper, and has one wrench checked with it.
func (b *builder) bench() {
	number := b.register(tool{kind: "torque tester", maker: "Brindle", model: "TT-250", serial: "TT250-0091", place: "Stockroom/Drawer 3",
		price: "412.00", bought: "2026-11-12", seller: "Counter sale", usage: "rare", marking: "engraved"})
	b.calibrate(number, model.Calibrate{
		Requirement: &model.Requirement{Preset: "torque-tester", Unit: "N·m", Range: "10..250", Graduation: "0.1",
			Limit: "1 % of reference", LimitFrom: "its certificate, page 1"},
		AsLeft: "cw:10=10.0,cw:125=125.1,cw:250=250.1,ccw:10=10.0,ccw:125=125.0,ccw:250=250.2",
	}, 60, lastDay)
	b.do("bench check", func() error {
		_, err := b.shop.Bench(b.ctx, b.by, b.numbers[4], model.Bench{Standard: number, Temperature: "20 °C",
			At: []string{"cw:40=39.9,40.0,40.1,40.0,39.9", "cw:120=120.1,119.9,120.0,120.2,119.8", "cw:200=200.2,199.8,200.0,200.1,199.9",
				"ccw:40=40.0,40.1,39.9,40.0,40.0", "ccw:120=120.0,119.8,120.1,120.2,119.9", "ccw:200=200.1,199.9,200.3,199.8,200.0"}})
		return err
	})
}
