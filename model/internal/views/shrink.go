package views

import (
	"image"
	"image/draw"
)

// shrink gives a copy whose longer side is at most side pixels, on white. Each
// pixel is the mean of the area that it stands for: no finer detail can turn into
// a pattern. It reads the source row by row and holds one row of sums.
func shrink(src image.Image, side int) *image.RGBA {
	from := src.Bounds()
	size := fit(from.Size(), side)
	dst := image.NewRGBA(image.Rectangle{Max: size})
	row := image.NewRGBA(image.Rect(0, 0, from.Dx(), 1))
	read := func(y int) {
		draw.Draw(row, row.Bounds(), image.White, image.Point{}, draw.Src)
		draw.Draw(row, row.Bounds(), src, image.Pt(from.Min.X, from.Min.Y+y), draw.Over)
	}
	if size == from.Size() {
		for y := range size.Y {
			read(y)
			copy(dst.Pix[y*dst.Stride:], row.Pix)
		}
		return dst
	}
	columns, rows := spread(from.Dx(), size.X), spread(from.Dy(), size.Y)
	line := make([]uint64, 3*size.X+3) // sums of one row; the last three take nothing
	var sums [2][]uint64               // of the row that is being made, and of the next
	sums[0], sums[1] = make([]uint64, len(line)), make([]uint64, len(line))
	area := uint64(from.Dx()) * uint64(from.Dy())
	for y, share := range rows {
		read(y)
		narrow(line, row.Pix, columns)
		for i, v := range line {
			sums[0][i] += v * share.here
			sums[1][i] += v * share.next
		}
		if y+1 == len(rows) || rows[y+1].to > share.to {
			settle(dst, share.to, sums[0], area)
			sums[0], sums[1] = sums[1], sums[0]
			clear(sums[1])
		}
	}
	return dst
}

// narrow adds up one row of pixels in the columns that they go to.
func narrow(line []uint64, pixels []uint8, columns []part) {
	clear(line)
	for x, at := range columns {
		p, l := pixels[4*x:4*x+3:4*x+3], line[3*at.to:3*at.to+6:3*at.to+6]
		r, g, b := uint64(p[0]), uint64(p[1]), uint64(p[2])
		l[0] += r * at.here
		l[1] += g * at.here
		l[2] += b * at.here
		if at.next > 0 {
			l[3] += r * at.next
			l[4] += g * at.next
			l[5] += b * at.next
		}
	}
}

// settle writes one finished row of means.
func settle(dst *image.RGBA, y int, sums []uint64, area uint64) {
	out := dst.Pix[y*dst.Stride:]
	for x := range dst.Rect.Dx() {
		for c := range 3 {
			out[4*x+c] = uint8((sums[3*x+c] + area/2) / area)
		}
		out[4*x+3] = 0xff
	}
}

// part says which pixel a source pixel goes to and how much of it; what is left
// goes to the next.
type part struct {
	to         int
	here, next uint64
}

// spread lays n source pixels over m <= n, in exact parts: each target takes n
// parts, each source gives m.
func spread(n, m int) []part {
	parts := make([]part, n)
	for i := range parts {
		start, end := i*m, (i+1)*m
		to := start / n
		here := min(end, (to+1)*n) - start
		parts[i] = part{to, uint64(here), uint64(m - here)}
	}
	return parts
}

// fit scales a size down until no side is over side; none becomes 0.
func fit(size image.Point, side int) image.Point {
	longer := max(size.X, size.Y)
	if longer <= side {
		return size
	}
	scaled := func(n int) int { return max(1, (n*side+longer/2)/longer) }
	return image.Pt(scaled(size.X), scaled(size.Y))
}

// gray gives the luma of a picture.
func gray(src *image.RGBA) *image.Gray {
	g := image.NewGray(src.Bounds())
	draw.Draw(g, g.Bounds(), src, src.Bounds().Min, draw.Src)
	return g
}

// turn gives a picture as it is shown under an orientation of Exif: shown (x, y)
// is read from stored as the table says (JEITA CP-3451, Exif 2.2, p. 18). A
// reserved value is 1.
func turn(stored *image.RGBA, orientation int) *image.RGBA {
	w, h := stored.Rect.Dx(), stored.Rect.Dy()
	var from func(x, y int) (int, int)
	switch orientation {
	case 2:
		from = func(x, y int) (int, int) { return w - 1 - x, y }
	case 3:
		from = func(x, y int) (int, int) { return w - 1 - x, h - 1 - y }
	case 4:
		from = func(x, y int) (int, int) { return x, h - 1 - y }
	case 5:
		from = func(x, y int) (int, int) { return y, x }
	case 6:
		from = func(x, y int) (int, int) { return y, h - 1 - x }
	case 7:
		from = func(x, y int) (int, int) { return w - 1 - y, h - 1 - x }
	case 8:
		from = func(x, y int) (int, int) { return w - 1 - y, x }
	default:
		return stored
	}
	size := image.Pt(w, h)
	if orientation >= 5 {
		size = image.Pt(h, w)
	}
	shown := image.NewRGBA(image.Rectangle{Max: size})
	for y := range size.Y {
		for x := range size.X {
			sx, sy := from(x, y)
			copy(shown.Pix[y*shown.Stride+4*x:][:4], stored.Pix[sy*stored.Stride+4*sx:])
		}
	}
	return shown
}
