package evidence

import (
	"fmt"
	"io"
	"strconv"
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
// 0x9011, and of the directory for GPS 1 to 4.
var claimed = map[string]string{
	"Make": "IFD0", "Model": "IFD0", "Orientation": "IFD0",
	"DateTimeOriginal": "IFD0/ExifIFDP", "OffsetTimeOriginal": "IFD0/ExifIFDP",
	"GPSLatitude": gpsFields, "GPSLatitudeRef": gpsFields, "GPSLongitude": gpsFields, "GPSLongitudeRef": gpsFields,
}

const gpsFields = "IFD0/GPSInfoIFD"

// upright is the orientation of a picture that is stored as it is shown.
const upright = 1

// claim reads what a picture says of its time, its device, its place and which
// way up it is. Metadata that cannot be read claims nothing: it is never a reason
// to refuse evidence.
func (m *Media) claim(src *source) {
	m.Orientation = upright
	said := metadata(src, m.Type)
	text := func(name string) string { s, _ := said[name].(string); return s }
	degrees := func(name string) float64 { d, _ := said[name].(float64); return d }
	m.ClaimedAt = claimedTime(text("DateTimeOriginal"), text("OffsetTimeOriginal"))
	m.Device = claimedDevice(text("Make"), text("Model"))
	m.Place = claimedPlace(degrees("GPSLatitude"), degrees("GPSLongitude"), text("GPSLatitudeRef"), text("GPSLongitudeRef"))
	// Values outside 1 to 8 are reserved (JEITA CP-3451, Exif 2.2, p. 18).
	if n, short := said["Orientation"].(uint16); short && n >= 1 && n <= 8 {
		m.Orientation = int(n)
	}
}

// metadata gives the fields of Exif that are read, as far as they can be.
func metadata(src *source, kind string) (found map[string]any) {
	found = map[string]any{}
	defer func() {
		if recover() != nil {
			found = nil
		}
	}()
	if !src.seek(0) {
		return nil
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
			found[tag.Tag] = tag.Value
			return nil
		},
	})
	return found
}

// claimedPlace writes degrees as the coordinates of a geo URI, latitude first, in
// WGS 84 (RFC 5870 section 3.4.2), to five decimals, about a meter. Degrees that
// are on no map, and the zeros of a camera that knew no place, say nothing.
func claimedPlace(latitude, longitude float64, north, east string) string {
	sign := map[string]float64{"N": 1, "S": -1}[north]
	signEast := map[string]float64{"E": 1, "W": -1}[east]
	if sign == 0 || signEast == 0 || !(latitude >= 0 && latitude <= 90 && longitude >= 0 && longitude <= 180) || latitude == 0 && longitude == 0 {
		return ""
	}
	return decimals(latitude*sign) + "," + decimals(longitude*signEast)
}

// decimals writes degrees; a zero has no sign.
func decimals(degrees float64) string {
	text := strconv.FormatFloat(degrees, 'f', 5, 64)
	if text == "-0.00000" {
		return text[1:]
	}
	return text
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
