package codes

import (
	"image"
	"image/color"
	"slices"
	"testing"

	"golang.org/x/image/draw"
)

// FuzzRead: a label whose modules are changed at will is read, or said to be there, or
// neither; the reader never ends the program, and gives each text once. The places of the
// changed modules come in pairs, of two modules of the label's drawing.
func FuzzRead(f *testing.F) {
	drawn := label(f, "T/00EKM5", "00E-KM5")
	f.Add([]byte{})
	f.Add([]byte{10, 10, 40, 40, 70, 20})
	f.Add([]byte("rubbed off along one edge of it, from the left to the right"))
	f.Fuzz(func(t *testing.T, changed []byte) {
		const dot = 6
		photo := image.NewRGBA(drawn.Bounds())
		draw.Draw(photo, photo.Rect, drawn, image.Point{}, draw.Src)
		for i := 0; i+1 < len(changed); i += 2 {
			at := image.Pt(int(changed[i])*dot, int(changed[i+1])*dot)
			paint := color.Gray{Y: changed[i] ^ changed[i+1]}
			draw.Draw(photo, image.Rectangle{at, at.Add(image.Pt(dot, dot))}, image.NewUniform(paint), image.Point{}, draw.Src)
		}
		texts, unreadable := Read(photo)
		if len(texts) > 0 && unreadable || !slices.IsSorted(texts) || len(slices.Compact(slices.Clone(texts))) != len(texts) {
			t.Fatalf("%q, unreadable %v", texts, unreadable)
		}
		if len(changed) == 0 && !slices.Equal(texts, []string{"T/00EKM5"}) {
			t.Fatalf("unchanged, it reads %q", texts)
		}
	})
}
