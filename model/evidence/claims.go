package evidence

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"github.com/bep/imagemeta"
	"golang.org/x/text/unicode/norm"

	"pawl/model/dates"
)

var metaFormats = map[string]imagemeta.ImageFormat{
	TypeJPEG: imagemeta.JPEG,
	TypePNG:  imagemeta.PNG,
	TypeWebP: imagemeta.WebP,
	TypeHEIC: imagemeta.HEIF,
	TypeHEIF: imagemeta.HEIF,
}

// The fields of Exif that are read (CIPA DC-008): 0x010F, 0x0110, 0x0112, 0x9003,
// 0x9011.
var claimed = map[string]string{
	"Make": "IFD0", "Model": "IFD0", "Orientation": "IFD0",
	"DateTimeOriginal": "IFD0/ExifIFDP", "OffsetTimeOriginal": "IFD0/ExifIFDP",
}

// upright is the orientation of a picture that is stored as it is shown.
const upright = 1

// claims reads what a picture says of its time, its device and which way up it
// is. Metadata that cannot be read claims nothing: it is never a reason to refuse
// evidence.
func claims(src *source, kind string) (at, device string, orientation int) {
	found, orientation := map[string]string{}, upright
	defer func() {
		if recover() != nil {
			at, device, orientation = "", "", upright
		}
	}()
	if !src.seek(0) {
		return "", "", upright
	}
	// An error after the fields were met takes nothing from them.
	_, _ = imagemeta.Decode(imagemeta.Options{
		R:            io.ReadSeeker(&budgeted{src: src, left: budgetBytes}),
		ImageFormat:  metaFormats[kind],
		Sources:      imagemeta.EXIF,
		LimitTagSize: 1024,
		ShouldHandleTag: func(tag imagemeta.TagInfo) bool {
			namespace, wanted := claimed[tag.Tag]
			_, met := found[tag.Tag]
			return wanted && namespace == tag.Namespace && !met
		},
		HandleTag: func(tag imagemeta.TagInfo) error {
			text, _ := tag.Value.(string)
			found[tag.Tag] = text
			// Values outside 1 to 8 are reserved (JEITA CP-3451, Exif 2.2, p. 18).
			if n, short := tag.Value.(uint16); short && tag.Tag == "Orientation" && n >= 1 && n <= 8 {
				orientation = int(n)
			}
			return nil
		},
	})
	return claimedTime(found["DateTimeOriginal"], found["OffsetTimeOriginal"]),
		claimedDevice(found["Make"], found["Model"]), orientation
}

const localLayout = "2006-01-02T15:04:05"

// claimedTime turns "2026:01:15 14:03:22" and "-06:00" into RFC 3339. Without an
// offset, or with one that no place on earth has, the zone stays unknown. Blanks,
// zeros and anything that is not a time say nothing.
func claimedTime(original, offset string) string {
	const layout = "2006:01:02 15:04:05"
	local, err := time.Parse(layout, original)
	// Parse takes a blank or missing digit, and fractions; writing it again tells.
	if err != nil || local.Year() == 0 || local.Format(layout) != original {
		return ""
	}
	at := local.Format(localLayout)
	if !knownOffset(offset) {
		return at
	}
	return at + offset
}

// knownOffset accepts +HH:MM or -HH:MM from -12:00 to +14:00, the range in civil
// use. RFC 3339, 4.3, reads -00:00 as unknown.
func knownOffset(offset string) bool {
	var hours, minutes int
	if len(offset) != 6 || (offset[0] != '+' && offset[0] != '-') || offset[3] != ':' || offset == "-00:00" {
		return false
	}
	for _, i := range []int{1, 2, 4, 5} {
		if offset[i] < '0' || offset[i] > '9' {
			return false
		}
	}
	if _, err := fmt.Sscanf(offset[1:], "%02d:%02d", &hours, &minutes); err != nil || minutes > 59 {
		return false
	}
	total := hours*60 + minutes
	if offset[0] == '-' {
		return total <= 12*60
	}
	return total <= 14*60
}

// claimedDevice joins maker and model: printable, one space between words, at
// most 64 characters.
func claimedDevice(maker, model string) string {
	const most = 64
	clean := strings.Map(func(r rune) rune {
		if !unicode.IsGraphic(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, norm.NFC.String(strings.ToValidUTF8(maker+" "+model, " ")))
	runes := []rune(strings.Join(strings.Fields(clean), " "))
	return strings.TrimSpace(string(runes[:min(len(runes), most)]))
}

// Suspicious says whether a claimed time (as in Media) is over a day away from
// the receipt. A claim without zone may be local time anywhere, so it must be
// over 38 hours away: a day and the 14 hours of the farthest zone. Nothing
// claimed, or no time of receipt, is not suspicious; a claim that is no time is.
func Suspicious(claimed string, received dates.Instant) bool {
	if claimed == "" || received == 0 {
		return false
	}
	allowed := 24 * time.Hour
	at, err := time.Parse(time.RFC3339, claimed)
	if err != nil {
		allowed += 14 * time.Hour
		if at, err = time.Parse(localLayout, claimed); err != nil {
			return true
		}
	}
	// Sub saturates at 292 years, which is far enough.
	return received.Time().Sub(at).Abs() > allowed
}
