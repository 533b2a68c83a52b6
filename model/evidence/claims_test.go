package evidence

import (
	"encoding/binary"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
)

func TestAPhotoClaimsItsTimeAndDevice(t *testing.T) {
	words := exifWords{"Brindle", "Pocket 3", "2026:01:15 14:03:22", "-06:00"}
	jpeg, png := realJPEG(t, 8, 8), realPNG(t, 8, 8)
	for what, file := range map[string][]byte{
		"JPEG, big-endian":    jpegWith(jpeg, tiff(binary.BigEndian, words)),
		"JPEG, little-endian": jpegWith(jpeg, tiff(binary.LittleEndian, words)),
		"PNG":                 pngWith(png, tiff(binary.BigEndian, words)),
		"WebP":                riff(vp8x(320, 200), vp8(320, 200), riffChunk("EXIF", tiff(binary.LittleEndian, words))),
		"HEIC":                heicWith(tiff(binary.BigEndian, words), ispe(8, 8)),
	} {
		got, err := inspectBytes(file, "", "")
		if err != nil || got.ClaimedAt != "2026-01-15T14:03:22-06:00" || got.Device != "Brindle Pocket 3" {
			t.Errorf("%s: claimed %q by %q, %v", what, got.ClaimedAt, got.Device, err)
			continue
		}
		// Check value EX-02: 2026:01:15 14:03:22 with -06:00 = 2026-01-15T20:03:22Z.
		at, err := time.Parse(time.RFC3339, got.ClaimedAt)
		if want := time.Date(2026, 1, 15, 20, 3, 22, 0, time.UTC); err != nil || !at.Equal(want) {
			t.Errorf("%s: %v, %v; want %v", what, at, err, want)
		}
	}
}

func TestATimeWithoutAZoneStaysWithoutOne(t *testing.T) {
	for _, c := range []struct{ taken, offset, want string }{
		{"2026:01:15 14:03:22", "-06:00", "2026-01-15T14:03:22-06:00"},
		{"2026:01:15 14:03:22", "+05:45", "2026-01-15T14:03:22+05:45"},
		{"2026:01:15 14:03:22", "+00:00", "2026-01-15T14:03:22+00:00"},
		{"2026:01:15 14:03:22", "+14:00", "2026-01-15T14:03:22+14:00"},
		{"2026:01:15 14:03:22", "-12:00", "2026-01-15T14:03:22-12:00"},
		{"2024:02:29 00:00:00", "", "2024-02-29T00:00:00"},

		// Offsets that say nothing. RFC 3339, 4.3: -00:00 is an unknown offset.
		{"2026:01:15 14:03:22", "", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "-00:00", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "   :  ", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "+14:01", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "-12:01", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "+01:60", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "+99:99", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "Z", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "+1:000", "2026-01-15T14:03:22"},
		{"2026:01:15 14:03:22", "++1:00", "2026-01-15T14:03:22"},

		// Times that say nothing: CIPA DC-008 blanks, and zeros as some cameras write.
		{"", "-06:00", ""},
		{"0000:00:00 00:00:00", "-06:00", ""},
		{"0000:01:01 00:00:00", "", ""},
		{"    :  :     :  :  ", "", ""},
		{"2026:02:29 14:03:22", "", ""},
		{"2026:13:01 14:03:22", "", ""},
		{"2026:01:15 24:00:00", "", ""},
		{"2026:01:15 14:03:60", "", ""},
		{"2026-01-15 14:03:22", "", ""},
		{"2026:01:15T14:03:22", "", ""},
		{"2026:1:15 14:03:22", "", ""},
		{"2026:01:15  4:03:22", "", ""},
		{"2026:01:15 14:03:22.5", "", ""},
		{"2026:01:15 14:03:22Z", "", ""},
		{"yesterday at ten", "", ""},
	} {
		file := jpegWith(realJPEG(t, 8, 8), tiff(binary.BigEndian, exifWords{"", "", c.taken, c.offset}))
		if got, err := inspectBytes(file, "", ""); err != nil || got.ClaimedAt != c.want {
			t.Errorf("taken %q, offset %q: claimed %q, %v; want %q", c.taken, c.offset, got.ClaimedAt, err, c.want)
		}
	}
}

func TestADeviceIsPrintableAndShort(t *testing.T) {
	for _, c := range []struct{ maker, model, want string }{
		{"Brindle", "Pocket 3", "Brindle Pocket 3"},
		{"  Brindle  ", "\x00Pocket   3 ", "Brindle Pocket 3"},
		{"Brindle", "", "Brindle"},
		{"", "Pocket 3", "Pocket 3"},
		{"", "", ""},
		{"Bri\x1b[31mndle", "P\u202e3", "Bri [31mndle P 3"},
		{"Brindle\xff\xfe", "Pocket", "Brindle Pocket"},
		{"Bru\u0308cke", "1", "Br\u00fccke 1"}, // NFC
		{strings.Repeat("é", 100), "x", strings.Repeat("é", 64)},
		{strings.Repeat("a", 63), "b", strings.Repeat("a", 63)},
	} {
		if got := claimedDevice(c.maker, c.model); got != c.want {
			t.Errorf("%q and %q: %q, want %q", c.maker, c.model, got, c.want)
		}
	}
}

func TestBrokenMetadataClaimsNothingAndIsKept(t *testing.T) {
	good := tiff(binary.BigEndian, exifWords{"Brindle", "Pocket 3", "2026:01:15 14:03:22", "-06:00"})
	photo := realJPEG(t, 8, 8)
	whole, err := inspectBytes(jpegWith(photo, good), "", "")
	if err != nil || whole.Device == "" {
		t.Fatalf("the unbroken photo: %+v, %v", whole, err)
	}
	for cut := range len(good) {
		got, err := inspectBytes(jpegWith(photo, good[:cut]), "", "")
		if err != nil || got.Width != 8 {
			t.Fatalf("cut at %d: %+v, %v; want kept", cut, got, err)
		}
	}
	if got, _ := inspectBytes(jpegWith(photo, good[:8]), "", ""); got.ClaimedAt != "" || got.Device != "" {
		t.Errorf("cut before its fields, it claims %q by %q", got.ClaimedAt, got.Device)
	}
}

func TestAClaimOverADayOffIsSuspicious(t *testing.T) {
	received := instant(t, "2026-01-15T20:03:22Z")
	for _, c := range []struct {
		claimed string
		want    bool
	}{
		{"2026-01-15T14:03:22-06:00", false}, // the same moment, EX-02
		{"2026-01-14T14:03:22-06:00", false}, // a day before, to the second
		{"2026-01-14T14:03:21-06:00", true},
		{"2026-01-16T14:03:22-06:00", false}, // a day after
		{"2026-01-16T14:03:23-06:00", true},
		{"2026-01-16T20:03:22", false},
		{"2026-01-14T06:03:22", false}, // 38 hours before, to the second
		{"2026-01-14T06:03:21", true},
		{"2026-01-17T10:03:22", false}, // 38 hours after
		{"2026-01-17T10:03:23", true},
		{"0001-01-01T00:00:00", true}, // farther than a duration can count
		{"9999-12-31T23:59:59Z", true},
		{"", false},
		{"last week", true},
	} {
		if got := Suspicious(c.claimed, received); got != c.want {
			t.Errorf("claimed %q: %v, want %v", c.claimed, got, c.want)
		}
	}
	if Suspicious("2001-01-01T00:00:00Z", 0) {
		t.Error("without a time of receipt nothing can be told")
	}
}

func instant(t *testing.T, text string) dates.Instant {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return dates.Instant(at.UnixMicro())
}

func TestNoZoneOnEarthMakesAFreshPhotoSuspicious(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		received := rapid.Int64Range(1, 4e9).Draw(t, "received")
		age := rapid.Int64Range(-86400, 86400).Draw(t, "seconds before receipt")
		zone := rapid.Int64Range(-12*60, 14*60).Draw(t, "minutes east")
		local := time.Unix(received-age+zone*60, 0).UTC().Format(localLayout)
		if Suspicious(local, dates.Instant(received*1e6)) {
			t.Fatalf("local time %s, received %d", local, received)
		}
	})
}

func TestWithAnOffsetADayIsADay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		received := rapid.Int64Range(1e6, 4e9).Draw(t, "received")
		age := rapid.Int64Range(-200000, 200000).Draw(t, "seconds before receipt")
		zone := rapid.IntRange(-12*60, 14*60).Draw(t, "minutes east")
		claimed := time.Unix(received-age, 0).In(time.FixedZone("", zone*60)).Format(time.RFC3339)
		if got, want := Suspicious(claimed, dates.Instant(received*1e6)), age > 86400 || age < -86400; got != want {
			t.Fatalf("claimed %s, %d s before receipt: %v, want %v", claimed, age, got, want)
		}
	})
}

func TestExifNeverMakesAPhotoRefused(t *testing.T) {
	photo := realJPEG(t, 8, 8)
	rapid.Check(t, func(t *rapid.T) {
		words := tiff(binary.LittleEndian, exifWords{"Brindle", "Pocket 3", "2026:01:15 14:03:22", "-06:00"})
		for range rapid.IntRange(0, 12).Draw(t, "changes") {
			words[rapid.IntRange(0, len(words)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "byte")
		}
		got, err := inspectBytes(jpegWith(photo, words), "", "")
		if err != nil || got.Width != 8 || fault.Is(err, fault.Internal) {
			t.Fatalf("%+v, %v", got, err)
		}
	})
}

func TestAPlaceIsADegreeOnTheMap(t *testing.T) {
	for _, c := range []struct {
		latitude, longitude float64
		north, east, want   string
	}{
		// An example of RFC 5870 is 48.2010,16.3695 (from memory); and the four quarters of the globe.
		{48.2010, 16.3695, "N", "E", "48.20100,16.36950"},
		{48.2010, 16.3695, "S", "E", "-48.20100,16.36950"},
		{48.2010, 16.3695, "N", "W", "48.20100,-16.36950"},
		{90, 180, "S", "W", "-90.00000,-180.00000"},
		{0, 16.3695, "S", "E", "0.00000,16.36950"},
		{0.000001, 16.3695, "S", "E", "0.00000,16.36950"},

		{0, 0, "N", "E", ""}, // as cameras write that know no place
		{48.2010, 16.3695, "", "E", ""},
		{48.2010, 16.3695, "N", "", ""},
		{48.2010, 16.3695, "NS", "E", ""},
		{90.1, 16.3695, "N", "E", ""},
		{48.2010, 180.1, "N", "E", ""},
		{-48.2010, 16.3695, "N", "E", ""},
		{math.NaN(), 16.3695, "N", "E", ""},
		{48.2010, math.Inf(1), "N", "E", ""},
	} {
		if got := claimedPlace(c.latitude, c.longitude, c.north, c.east); got != c.want {
			t.Errorf("%v %s, %v %s: %q, want %q", c.latitude, c.north, c.longitude, c.east, got, c.want)
		}
	}
}
