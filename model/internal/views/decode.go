package views

import (
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/webp"

	"pawl/model/evidence"
	"pawl/model/fault"
)

var decoders = map[string]func(io.Reader) (image.Image, error){
	evidence.TypeJPEG: jpeg.Decode,
	evidence.TypePNG:  png.Decode,
	evidence.TypeWebP: webp.Decode,
}

// decode gives an upright copy of an original, of at most side pixels, and what
// the original is. The whole picture is held only while the gate is passed.
func (m *Maker) decode(ctx context.Context, sha string, side int) (*image.RGBA, evidence.Media, error) {
	f, size, err := m.Originals(sha)
	if err != nil {
		return nil, evidence.Media{}, err
	}
	defer f.Close()
	img, media, err := m.decoded(ctx, f, size, side)
	m.decodedAs(sha, media, err)
	return img, media, err
}

// decoded is decode of bytes that are open.
func (m *Maker) decoded(ctx context.Context, f io.ReadSeeker, size int64, side int) (*image.RGBA, evidence.Media, error) {
	media, err := evidence.Inspect(f, size, "", "")
	if err != nil {
		return nil, media, noView("it cannot be read: " + fault.Of(err).Message)
	}
	ctx, cancel := context.WithTimeout(ctx, m.limit+waitTime)
	defer cancel()
	switch media.Type {
	case evidence.TypeHEIC, evidence.TypeHEIF:
		img, err := m.convert(ctx, f, media, side)
		return img, media, err
	}
	if !media.Views {
		if media.Family == evidence.FamilyPDF {
			return nil, media, noView("a PDF is shown as it is")
		}
		return nil, media, noView(media.Note)
	}
	img, err := m.reduce(ctx, f, media, side)
	return img, media, err
}

// noView is the fault of an original without a view.
func noView(why string) *fault.Error {
	return fault.New(fault.NotFound, "there is no view of it: %s", why).WithHint("get the original, without view")
}

// reduce decodes a JPEG, PNG or WebP and gives its upright copy.
func (m *Maker) reduce(ctx context.Context, f io.ReadSeeker, media evidence.Media, side int) (img *image.RGBA, err error) {
	leave, err := m.gate.enter(ctx, media.Width*media.Height)
	if err != nil {
		return nil, err
	}
	defer leave()
	defer func() {
		if p := recover(); p != nil { // a decoder met bytes that its authors did not think of
			img, err = nil, noView(fmt.Sprintf("it cannot be decoded: %v", p))
		}
	}()
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, diskFault(err)
	}
	ctx, cancel := context.WithTimeout(ctx, m.limit)
	defer cancel()
	whole, err := decoders[media.Type](timed{ctx, f})
	if ctx.Err() != nil && err != nil { // of this machine just now, not of the picture
		return nil, fault.New(fault.Unavailable, "the picture takes too long to be decoded").WithHint("try again when less is going on").WithCause(err)
	}
	if err != nil {
		return nil, noView("it cannot be decoded: " + err.Error())
	}
	if got := whole.Bounds().Size(); int64(got.X) != media.Width || int64(got.Y) != media.Height {
		return nil, noView("its header and its pixels differ")
	}
	return turn(shrink(whole, side), media.Orientation), nil
}

// timed ends a decoding that takes too long: decoders cannot be called off, but
// they stop when nothing more can be read.
type timed struct {
	ctx context.Context
	r   io.Reader
}

func (t timed) Read(p []byte) (int, error) {
	if err := t.ctx.Err(); err != nil {
		return 0, fmt.Errorf("it takes too long: %w", err)
	}
	return t.r.Read(p)
}

func encode(w io.Writer, img *image.RGBA) error {
	if err := jpeg.Encode(w, img, &jpeg.Options{Quality: 85}); err != nil {
		return fault.New(fault.Internal, "the view cannot be encoded").WithCause(err)
	}
	return nil
}
