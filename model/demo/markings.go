package demo

import (
	"image"
	"image/color"
	"image/draw"
	"slices"
	"strings"
	"time"

	"pawl/model/markings"
	"pawl/model/register"
)

// seen is a look at the serial of the nth tool of a kind, on a day of the story; lost
// are the characters that could not be read any more, from 0.
type seen struct {
	day     int
	kind    string
	nth     int
	grade   int64
	lost    []int
	noPhoto bool
}

// looks are those of eighteen months, by day: impact wrenches that are printed wear,
// one until nothing of its serial is left; under tape one stays crisp; of one a grade
// rose, which a second pair of eyes will do.
var looks = []seen{
	{day: 28, kind: "impact wrench", nth: 0, grade: 4}, {day: 28, kind: "impact wrench", nth: 1, grade: 4}, {day: 28, kind: "impact wrench", nth: 2, grade: 4},
	{day: 29, kind: "impact driver", nth: 0, grade: 4}, {day: 29, kind: "impact driver", nth: 1, grade: 4, noPhoto: true},
	{day: 56, kind: "impact wrench", nth: 3, grade: 4}, {day: 57, kind: "cordless drill", nth: 0, grade: 4},
	{day: 112, kind: "impact wrench", nth: 1, grade: 3}, {day: 113, kind: "impact wrench", nth: 4, grade: 4},
	{day: 154, kind: "impact wrench", nth: 0, grade: 3}, {day: 155, kind: "impact driver", nth: 0, grade: 3},
	{day: 210, kind: "impact wrench", nth: 3, grade: 3}, {day: 211, kind: "ratchet", nth: 0, grade: 3}, {day: 211, kind: "ratchet", nth: 1, grade: 4, noPhoto: true},
	{day: 252, kind: "impact wrench", nth: 1, grade: 2, lost: []int{6}}, {day: 253, kind: "impact wrench", nth: 4, grade: 3},
	{day: 294, kind: "impact wrench", nth: 0, grade: 3}, {day: 295, kind: "impact driver", nth: 1, grade: 3},
	{day: 336, kind: "impact wrench", nth: 3, grade: 4}, {day: 337, kind: "cordless drill", nth: 0, grade: 3},
	{day: 378, kind: "impact wrench", nth: 1, grade: 1, lost: []int{5, 6}}, {day: 379, kind: "impact wrench", nth: 2, grade: 4},
	{day: 420, kind: "impact wrench", nth: 0, grade: 2}, {day: 421, kind: "impact driver", nth: 0, grade: 2}, {day: 421, kind: "ratchet", nth: 0, grade: 3},
	{day: 462, kind: "impact wrench", nth: 4, grade: 2}, {day: 463, kind: "tread depth gauge", nth: 0, grade: 3, noPhoto: true},
	{day: 504, kind: "impact wrench", nth: 3, grade: 3}, {day: 504, kind: "impact wrench", nth: 1, grade: 0, lost: []int{1, 2, 4, 5, 6, 7}},
	{day: 532, kind: "impact wrench", nth: 0, grade: 1, lost: []int{5}}, {day: 533, kind: "cordless drill", nth: 0, grade: 2},
}

// kept are the days on which more was done than looked: tape put on, and, where the
// serial was going, a number of the owner's beside it.
func (b *builder) kept(day int) {
	wrenches := b.ofKind("impact wrench")
	switch day {
	case 382:
		b.marking(wrenches[1], markings.Entry{OwnersNumber: "GLG-0117", Method: "engraved", Where: "below the battery, beside the serial"})
	case 465:
		b.marking(wrenches[4], markings.Entry{Protection: "clear tape"})
	}
}

// lookOver does the looks up to a day that are not done yet.
func (b *builder) lookOver(day int) {
	for ; b.looked < len(looks) && looks[b.looked].day <= day && b.err == nil; b.looked++ {
		b.lookAt(looks[b.looked])
	}
	b.kept(day)
}

func (b *builder) lookAt(l seen) {
	at := slices.IndexFunc(stock()[1:], func(t tool) bool { return t.kind == l.kind }) + l.nth
	t := stock()[1:][at]
	in, by := markings.Entry{Grade: &l.grade, Read: l.reads(t.serial)}, b.tech([]string{"Tech A", "Tech B", "Tech C"}[l.day%3])
	if !l.noPhoto {
		b.do("photograph a marking", func() error {
			sha, err := b.uploadAs(by, picture{"plate", "marking.jpg", "image/jpeg", l.photo(t)})
			in.Evidence = []register.Attach{{Kind: "plate", SHA256: sha, Name: "marking.jpg"}}
			return err
		})
	}
	b.do("look at "+b.numbers[at], func() error { _, err := b.shop.Mark(b.ctx, by, b.numbers[at], in); return err })
	b.clock.pass(2 * time.Minute)
}

func (b *builder) marking(number string, in markings.Entry) {
	b.do("marking of "+number, func() error { _, err := b.shop.Mark(b.ctx, b.by, number, in); return err })
	b.clock.pass(6 * time.Minute)
}

// reads is what can be read: "?" where a character is lost.
func (l seen) reads(serial string) string {
	all := []byte(serial)
	for _, at := range l.lost {
		all[at] = '?'
	}
	return string(all)
}

// photo draws the plate as worn as its grade: paler and scratched, and where characters
// are lost a smear.
func (l seen) photo(t tool) []byte {
	ground, gone := color.Gray{60}, uint8(4-l.grade)
	shown := strings.ReplaceAll(l.reads(t.serial), "?", " ")
	img := plate(ground, color.Gray{225 - 32*gone}, t.maker, t.model, "SER. "+shown)
	for i, c := range shown {
		if c == ' ' { // the face has 23 px a character
			at := image.Rect(44+23*(5+i), 218, 44+23*(6+i), 240)
			draw.Draw(img, at, image.NewUniform(color.Gray{74}), image.Point{}, draw.Src)
		}
	}
	for i := range 3 * int(gone) {
		y := 205 + (i*17+l.nth*5)%45
		draw.Draw(img, image.Rect(60+(i*53)%90, y, 300+(i*71)%130, y+2), image.NewUniform(ground), image.Point{}, draw.Src)
	}
	return asJPEG(img)
}
