package evidence

import (
	"encoding/binary"
	"errors"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/webp"

	"pawl/model/fault"
)

// picture is what a header says of its pixels.
type picture struct {
	width, height int64
	moving        bool // holds several frames in a form that cannot be drawn here
}

var decodeConfig = map[string]func(io.Reader) (image.Config, error){
	TypeJPEG: jpeg.DecodeConfig,
	TypePNG:  png.DecodeConfig,
	TypeWebP: webp.DecodeConfig,
}

// measure reads the size of a picture from its header.
func measure(src *source, kind string) (picture, error) {
	decode := decodeConfig[kind]
	if decode == nil {
		width, height := measureHEIC(src)
		return picture{width: width, height: height}, nil
	}
	src.seek(0)
	config, err := decode(src)
	if err == nil && (config.Width < 1 || config.Height < 1) {
		err = errors.New("no pixels")
	}
	if err != nil {
		return picture{}, fault.New(fault.Invalid, "the %s is cut short or damaged: its header cannot be read", shortName(kind)).
			WithHint("send the whole file as the camera made it").WithCause(err)
	}
	pic := picture{width: int64(config.Width), height: int64(config.Height)}
	if kind == TypeWebP {
		return checkFrame(src, pic)
	}
	return pic, nil
}

// checkFrame walks the chunks of a WebP (RFC 9649, 2.3 to 2.7) to its first
// frame. The extended header states a canvas of its own; a small canvas over a
// huge frame would slip past the limits.
func checkFrame(src *source, canvas picture) (picture, error) {
	const mostChunks = 64
	offset := int64(12)
	for range mostChunks {
		chunk := src.at(offset, 18)
		if len(chunk) < 13 {
			break
		}
		width, height, found := int64(0), int64(0), true
		switch string(chunk[:4]) {
		case "ANMF":
			canvas.moving = true
			return canvas, nil
		case "VP8 ":
			width, height = sizeVP8(chunk[8:])
		case "VP8L":
			width, height = sizeVP8L(chunk[8:])
		default:
			found = false
		}
		if found && width == canvas.width && height == canvas.height {
			return canvas, nil
		}
		if found {
			return picture{}, fault.New(fault.Invalid, "the WebP says it is %d x %d pixels and holds a frame of %d x %d",
				canvas.width, canvas.height, width, height).WithHint("send the photo as the camera made it")
		}
		length := int64(binary.LittleEndian.Uint32(chunk[4:]))
		offset += 8 + length + length&1
	}
	return picture{}, fault.New(fault.Invalid, "the WebP is cut short: it holds no picture").WithHint("send the whole file")
}

// sizeVP8 reads the size in a key frame header (RFC 6386, 9.1): 14 bits each
// after a 3-byte tag and a 3-byte start code.
func sizeVP8(b []byte) (width, height int64) {
	if len(b) < 10 {
		return 0, 0
	}
	const mask = 1<<14 - 1
	return int64(binary.LittleEndian.Uint16(b[6:]) & mask), int64(binary.LittleEndian.Uint16(b[8:]) & mask)
}

// sizeVP8L reads the size in a lossless header (RFC 9649, 3.4): 14 bits each,
// less one, after the signature byte.
func sizeVP8L(b []byte) (width, height int64) {
	if len(b) < 5 {
		return 0, 0
	}
	const mask = 1<<14 - 1
	bits := binary.LittleEndian.Uint32(b[1:])
	return int64(bits&mask) + 1, int64(bits>>14&mask) + 1
}
