package evidence

import "encoding/binary"

// measureHEIC finds the largest picture size stated in the metadata box
// (ISO/IEC 23008-12, 6.5.3: ispe, within ipco, iprp, meta); tiles and thumbnails
// state smaller ones. It returns 0, 0 when none is found near the start: such a
// file is kept all the same, because nothing here decodes it.
func measureHEIC(src *source) (width, height int64) {
	const near = 64 << 10
	file := src.at(0, near)
	eachBox(file, func(kind string, meta []byte) {
		if kind != "meta" || len(meta) < 4 {
			return
		}
		eachBox(meta[4:], func(kind string, iprp []byte) { // after version and flags
			if kind != "iprp" {
				return
			}
			eachBox(iprp, func(kind string, ipco []byte) {
				if kind == "ipco" {
					eachBox(ipco, func(kind string, ispe []byte) {
						if kind == "ispe" && len(ispe) >= 12 {
							width, height = larger(width, height, ispe)
						}
					})
				}
			})
		})
	})
	return width, height
}

// larger compares a size with the one in an ispe box: version and flags, width,
// height. Sides are compared before areas, for a side alone can be too long.
func larger(width, height int64, ispe []byte) (int64, int64) {
	w, h := int64(binary.BigEndian.Uint32(ispe[4:])), int64(binary.BigEndian.Uint32(ispe[8:]))
	if max(width, height) > MaxSide {
		return width, height
	}
	if max(w, h) > MaxSide || w*h > width*height {
		return w, h
	}
	return width, height
}

// eachBox visits the boxes of one level (ISO/IEC 14496-12, 4.2): a 32-bit size
// that counts its own 8-byte header, a name, a payload. A box that runs past the
// end is visited with what there is of it. Sizes 0 and 1, which no writer uses
// for such small boxes, end the walk.
func eachBox(b []byte, visit func(kind string, payload []byte)) {
	for len(b) >= 8 {
		size := int64(binary.BigEndian.Uint32(b))
		if size < 8 {
			return
		}
		end := min(size, int64(len(b)))
		visit(string(b[4:8]), b[8:end])
		b = b[end:]
	}
}
