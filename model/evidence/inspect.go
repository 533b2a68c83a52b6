package evidence

import (
	"fmt"
	"io"
	"strings"

	"pawl/model/fault"
)

// The two families that are taken.
const (
	FamilyPicture = "picture"
	FamilyPDF     = "PDF"
)

// The media types that are taken.
const (
	TypeJPEG = "image/jpeg"
	TypePNG  = "image/png"
	TypeWebP = "image/webp"
	TypeHEIC = "image/heic"
	TypeHEIF = "image/heif"
	TypePDF  = "application/pdf"
)

// Limits of one original.
const (
	MaxBytes      = 25 << 20      // bytes, 25 MiB
	MaxViewPixels = 64 * 1000000  // pixels: to here a view can be made
	MaxPixels     = 400 * 1000000 // pixels: to here it is kept
	MaxSide       = 65535         // pixels: the largest side that a JPEG can state
)

// Media is what a file turned out to be.
type Media struct {
	Type   string // one of the Type constants
	Family string // FamilyPicture or FamilyPDF
	Width  int64  // pixels as stored; 0 for a PDF, and for an HEIC that hides them
	Height int64
	// ClaimedAt is when the photo says that it was taken: RFC 3339 with offset if
	// the photo gives one, else local time of an unknown zone as
	// 2026-01-15T14:03:22, empty if it says nothing.
	ClaimedAt string
	Device    string // maker and model that the photo claims, at most 64 characters
	// Place is where the photo says that it was taken: degrees of latitude and
	// longitude (WGS 84), such as 37.93633,-122.36529; empty if it says nothing.
	Place string
	// Orientation is that of Exif, 1 to 8: which way the stored picture must be
	// turned to be upright. 1 where the file says nothing; 0 for a PDF.
	Orientation int
	Views       bool   // a smaller copy can be made: a still JPEG, PNG or WebP within MaxViewPixels
	Note        string // what a person should know: a misleading name, why there is no view
}

// Inspect says what the size bytes of r are, by their content. The client's file
// name and its stated media type (either may be empty) are only compared with it.
//
// Faults: TooLarge over MaxBytes; Media for content that is not taken, or a name
// or stated type of another family; Invalid for a file that is cut short, and for
// a picture with too many pixels; Unavailable when r cannot be read.
func Inspect(r io.ReadSeeker, size int64, name, declared string) (Media, error) {
	if size > MaxBytes {
		return Media{}, fault.New(fault.TooLarge, "the file has %d bytes; the limit is %d (25 MiB)", size, int64(MaxBytes)).
			WithHint("take the photo at a lower resolution, or scan the paper at 300 dpi")
	}
	src, err := newSource(r, size)
	if err != nil {
		return Media{}, err
	}
	media, err := inspect(src, name, declared)
	if src.err != nil {
		return Media{}, unreadable(src.err)
	}
	if err != nil {
		return Media{}, err
	}
	return media, nil
}

func inspect(src *source, name, declared string) (Media, error) {
	head := src.head()
	kind, err := sniff(head)
	if err != nil {
		return Media{}, err
	}
	media := Media{Type: kind, Family: familyOf(kind)}
	note, err := compareNames(kind, name, declared)
	if err != nil {
		return Media{}, err
	}
	if media.Family == FamilyPDF {
		media.Note = note
		return media, checkPDFEnd(src)
	}
	pic, err := measure(src, kind)
	if err != nil {
		return Media{}, err
	}
	if err := checkPixels(pic.width, pic.height); err != nil {
		return Media{}, err
	}
	media.Width, media.Height = pic.width, pic.height
	without := withoutView(kind, pic)
	media.Views = without == ""
	media.Note = joinNotes(note, without)
	media.claim(src)
	return media, nil
}

// heicNote says why a HEIC has no view.
const heicNote = "kept without a view: HEIC cannot be drawn here"

// HEIC says whether it is one.
func (m Media) HEIC() bool { return m.Type == TypeHEIC || m.Type == TypeHEIF }

// Converted is what is said of a HEIC where a converter makes its views.
func (m Media) Converted() Media {
	if m.HEIC() {
		m.Note = strings.TrimSuffix(strings.TrimSuffix(m.Note, heicNote), "; ")
	}
	return m
}

// withoutView says why no view can be made; empty when one can.
func withoutView(kind string, pic picture) string {
	switch {
	case kind == TypeHEIC || kind == TypeHEIF:
		return heicNote
	case pic.moving:
		return "kept without a view: moving pictures cannot be drawn here"
	case pic.width*pic.height > MaxViewPixels:
		return fmt.Sprintf("kept without a view: %d x %d is over 64 megapixels", pic.width, pic.height)
	}
	return ""
}

// CanShow says whether an original can be shown on a screen and in print: a paper,
// or a picture of which a view can be made. With a converter a HEIC can. What moves
// is told from its bytes only, and taken for shown here.
func CanShow(mediaType string, width, height int64, converts bool) bool {
	switch mediaType {
	case TypePDF:
		return true
	case TypeHEIC, TypeHEIF:
		return converts
	}
	return withoutView(mediaType, picture{width: width, height: height}) == ""
}

// checkPixels refuses by size; both numbers are 0 where the size is unknown.
func checkPixels(width, height int64) error {
	if width > MaxSide || height > MaxSide {
		return fault.New(fault.Invalid, "the picture says it is %d x %d pixels; a side may have %d", width, height, int64(MaxSide)).
			WithHint("send the photo as the camera made it")
	}
	if width*height > MaxPixels {
		return fault.New(fault.Invalid, "the picture says it is %d x %d, over 400 megapixels", width, height).
			WithHint("send the photo as the camera made it")
	}
	return nil
}

func joinNotes(notes ...string) string {
	said := notes[:0]
	for _, n := range notes {
		if n != "" {
			said = append(said, n)
		}
	}
	return strings.Join(said, "; ")
}
