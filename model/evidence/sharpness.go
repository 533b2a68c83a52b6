package evidence

import (
	"fmt"
	"image"
	"math"
	"strings"
)

// What a close-up of a serial plate needs. All three are our choice. A drawn
// plate of six lines that fills the photo has a sharpness of about 500; blurred by
// one pixel of the judged copy, its smallest letters begin to run together and it
// is questioned.
const (
	// JudgedSide is the longest side, in pixels, of the gray copy on which
	// sharpness is measured: one figure means the same at any resolution.
	JudgedSide = 1024
	// MinSharpness is the least sharpness; see Sharpness.
	MinSharpness = 100
	// MinPlateSide is the least shorter side of the photo, in pixels.
	MinPlateSide = 480
)

// Sharpness is the variance of the Laplacian of a gray picture, in squared gray
// levels: 0 for a flat one, more the harder its edges are. The Laplacian is that
// of four neighbors; the outermost pixels are left out. A picture under 3 pixels
// has none. (The measure is common in focusing, where it is credited to Pech-
// Pacheco et al., ICPR 2000; from memory.)
func Sharpness(g *image.Gray) float64 {
	size := g.Bounds().Size()
	if size.X < 3 || size.Y < 3 {
		return 0
	}
	var sum, squares int64
	for y := 1; y < size.Y-1; y++ {
		row := g.Pix[y*g.Stride : y*g.Stride+size.X]
		above, below := g.Pix[(y-1)*g.Stride:], g.Pix[(y+1)*g.Stride:]
		for x := 1; x < size.X-1; x++ {
			l := int64(row[x-1]) + int64(row[x+1]) + int64(above[x]) + int64(below[x]) - 4*int64(row[x])
			sum, squares = sum+l, squares+l*l
		}
	}
	n := float64(size.X-2) * float64(size.Y-2)
	mean := float64(sum) / n
	return max(0, float64(squares)/n-mean*mean)
}

// Quality is how well a photo would show a serial plate.
type Quality struct {
	Sharpness   float64 // as Sharpness gives it, on a copy of at most JudgedSide
	ShorterSide int64   // pixels of the photo itself
	Broken      bool    // it cannot be decoded, though pictures of its sort can be
}

// Question asks about a close-up of a serial plate that is too blurred or too
// small, with the figure and what it is held against, or that is broken; empty when it
// is none of these.
// It is asked and never a reason to refuse: a poor photo is better than none.
func (q Quality) Question() string {
	if q.Broken {
		return "the picture breaks off or cannot be decoded, so nothing of it can be shown: take or send it again"
	}
	var found, mend []string
	if q.Sharpness < MinSharpness {
		found = append(found, fmt.Sprintf("sharpness %.0f; a plate that can be read has %d or more", math.Floor(q.Sharpness), MinSharpness))
		mend = append(mend, "closer", "with light from the side")
	}
	if q.ShorterSide < MinPlateSide {
		found = append(found, fmt.Sprintf("shorter side %d pixels; a plate that can be read has %d or more", q.ShorterSide, MinPlateSide))
		mend = append(mend, "at the camera's full resolution")
	}
	if len(found) == 0 {
		return ""
	}
	return strings.Join(found, "; ") + ": can the serial be read? If not, take it again, " + strings.Join(mend, ", ")
}
