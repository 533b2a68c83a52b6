// Package codes reads the QR codes in a photo. A code is one symbol that was
// found in it; one that was found and could not be read is said to be there.
package codes

import (
	"image"
	"math"
	"slices"

	"github.com/makiuchi-d/gozxing"
	multi "github.com/makiuchi-d/gozxing/multi/qrcode"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/makiuchi-d/gozxing/qrcode/detector"
	"golang.org/x/image/draw"
)

// Sides are the longer sides, in pixels, at which a photo is looked at, in turn.
// The reader needs about 3 pixels a module and loses itself in the grain of
// larger pictures: a label that fills the photo reads at the least, one that is a
// tenth of its width at the most.
var Sides = []int{1200, 800, 2000}

// MaxSide is the largest of Sides.
const MaxSide = 2000

// Read gives what the codes in a photo hold, each text once, in order. Unreadable
// says that none was read although there seems to be one.
func Read(photo *image.RGBA) (texts []string, unreadable bool) {
	seen := image.Point{}
	for _, side := range Sides {
		g := reduced(photo, side)
		if g.Rect.Size() == seen {
			continue
		}
		seen = g.Rect.Size()
		found, broken := readAt(g)
		if len(found) > 0 {
			return found, false
		}
		unreadable = unreadable || broken
	}
	return nil, unreadable
}

var hints = map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}

// readAt looks at one size. The reader of many codes passes over those that it
// cannot read; the reader of one tells.
func readAt(g *image.Gray) (texts []string, broken bool) {
	defer func() {
		if recover() != nil { // the reader met a pattern that its authors did not think of
			texts, broken = nil, true
		}
	}()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(g)
	if err != nil {
		return nil, false
	}
	all, err := multi.NewQRCodeMultiReader().DecodeMultiple(bitmap, hints)
	if err == nil && len(all) > 0 {
		for _, r := range all {
			texts = append(texts, r.GetText())
		}
		slices.Sort(texts)
		return slices.Compact(texts), false
	}
	one, err := qrcode.NewQRCodeReader().Decode(bitmap, hints)
	if err == nil {
		return []string{one.GetText()}, false
	}
	return nil, looksLikeOne(bitmap)
}

// looksLikeOne says whether there are the three finder patterns of a symbol: the
// corners of a right-angled triangle with equal sides of 14 modules or more
// (ISO/IEC 18004: version 1 has 21 modules, its finders 7 each), of equal modules
// that are not as fine as grain. The bounds are our choice.
func looksLikeOne(bitmap *gozxing.BinaryBitmap) bool {
	matrix, err := bitmap.GetBlackMatrix()
	if err != nil {
		return false
	}
	found, err := detector.NewFinderPatternFinder(matrix, nil).Find(hints)
	if err != nil {
		return false
	}
	corner, right, below := found.GetTopLeft(), found.GetTopRight(), found.GetBottomLeft()
	least, most := math.Inf(1), 0.0
	for _, p := range []*detector.FinderPattern{corner, right, below} {
		least, most = min(least, p.GetEstimatedModuleSize()), max(most, p.GetEstimatedModuleSize())
	}
	one, other, across := distance(corner, right), distance(corner, below), distance(right, below)
	side := max(one, other)
	return least >= 3 && most <= 1.3*least && min(one, other) > 0.8*side &&
		math.Abs(across/math.Hypot(one, other)-1) < 0.1 && side >= 11*least
}

func distance(a, b *detector.FinderPattern) float64 {
	return math.Hypot(a.GetX()-b.GetX(), a.GetY()-b.GetY())
}

// reduced gives the luma of a photo at no more than that longer side.
func reduced(photo *image.RGBA, side int) *image.Gray {
	size := photo.Rect.Size()
	if longer := max(size.X, size.Y); longer > side {
		size = image.Pt(max(1, size.X*side/longer), max(1, size.Y*side/longer))
	}
	g := image.NewGray(image.Rectangle{Max: size})
	if size == photo.Rect.Size() {
		draw.Draw(g, g.Rect, photo, photo.Rect.Min, draw.Src)
		return g
	}
	draw.ApproxBiLinear.Scale(g, g.Rect, photo, photo.Rect, draw.Src, nil)
	return g
}
