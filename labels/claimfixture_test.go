package labels

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/dates"
)

// at is an instant of the fixtures.
func at(text string) dates.Instant {
	t, err := time.Parse("2006-01-02 15:04", text)
	if err != nil {
		panic(err)
	}
	return dates.InstantOf(t)
}

func cents(n int64) *int64 { return &n }

// fileOf is a photo or paper of an invented tool.
func fileOf(ref, kind, path, media string) claims.File {
	return claims.File{Ref: ref, Kind: kind, Path: path, SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(ref+path))), MediaType: media, Bytes: 2_812_331,
		Received: at("2026-03-02 15:14"), Claimed: "2026-03-02T09:12:44-06:00"}
}

// theft is a statement of a break-in with lines of every sort: invented names, makers
// and numbers.
func theft(paper string) claims.Statement {
	s := claims.Statement{Format: claims.Format, Kind: claims.Insurance, Packet: "K-7K2M4Q9XC", Created: at("2026-11-29 15:14"), Ledger: "pawl/0123456789abcdef", Size: 1423,
		Zone: "America/Chicago", Currency: "USD", Paper: paper, Shop: "Gull Lane Garage", Supplement: 1,
		Claim: &claims.ClaimPart{ID: "C-2H4K9Q7M", Insured: "Gull Lane Garage LLC", Contact: "office@gull-lane.example", Policy: "Shop contents", PolicyNumber: "GL-5512-09",
			ClaimNumber: "26-0042-T", Adjuster: "R. Example", AdjusterAt: "adjuster@insurer.example", OtherInsurance: "none"},
		Loss: &claims.LossPart{ID: "L-3H4K9Q7N", Kind: claims.Theft, Found: at("2026-11-23 13:40"), Secure: at("2026-11-22 23:55"), Spot: "Bay 2, side door forced", Entered: "side door pried open",
			Locks: "deadbolt, broken", Alarm: "not set", Cameras: "one, facing the street", Keys: "Tech A, Tech B", Closed: "Tech B, 2026-11-22 17:55", Opened: "Tech A, 2026-11-23 07:40",
			Agency: "County sheriff", Report: "26-11873", Reported: "2026-11-23"},
		Files: []claims.File{fileOf("P1", "damage", "photos/P1.jpg", "image/jpeg"), fileOf("P2", "police", "papers/P2.pdf", "application/pdf")},
		Facts: []claims.FactPart{{On: "2026-11-24", What: "claim reported by telephone"}, {On: "2026-11-27", What: "first payment", Amount: cents(50000)}},
	}
	s.Lines = []claims.Line{
		{Line: 1, Money: true, Supplement: 1, Number: "00E-KM5", Numbers: []string{"00E-KM5"}, Kind: "impact wrench", Maker: "Brindle", Model: "BX-900", Serial: "KD4?8B217", SerialKey: "KD48B217",
			SerialSaid: "by sight and from the photo", OwnersNo: "GLG-0417", OwnersNoAt: "engraved on the housing, left", Condition: "good, 2026-10-30", Owner: "Gull Lane Garage",
			Bought: "2021-03-15", Seller: "Gannet Tool Counter", Price: cents(59900), Tax: cents(4942), Owed: cents(12000), OwedTo: "Gannet Tool Counter", OwedOn: "2026-11-01",
			Replacement: cents(64900), CostOf: "quote", CostSource: "Gannet Tool Counter", CostDated: "2026-11-25", Claimed: cents(64900), Registered: at("2025-05-02 15:00"),
			LastSeen: at("2026-11-22 22:10"), SeenHow: "returned by Tech B", LeftBehind: "charger and case", Confirmed: at("2026-11-23 14:00"), Notes: "1/2 inch drive, red tape on the handle",
			Files: []claims.File{fileOf("P3", "plate", "photos/P3.jpg", "image/jpeg"), fileOf("P4", "receipt", "papers/P4.jpg", "image/jpeg")}},
		{Line: 2, Money: true, Supplement: 1, Number: "00F-LN6", Numbers: []string{"00F-LN6", "00F-3T8"}, Kind: "socket set", Maker: "Tarn", Model: "TS-40", SerialSaid: "the maker gives none", Lot: "L2207",
			Pieces: []string{"10 mm socket", "12 mm socket", "extension (2)"}, Owner: "Tech B", Condition: "complete", Bought: "2024-06-30", Seller: "Gannet Tool Counter", Price: cents(18950),
			Replacement: cents(21000), CostOf: "price paid", CostDated: "2024-06-30", Registered: at("2025-05-02 15:20"), LastSeen: at("2026-11-20 14:00"), SeenHow: "counted in N-7K2M4Q9XC",
			Files: []claims.File{func() claims.File {
				f := fileOf("P5", "whole", "photos/P5.heic", "image/heic")
				f.WhyNot = "HEIC, and no converter is set up"
				return f
			}(), fileOf("P6", "receipt", "papers/P6.pdf", "application/pdf")}},
		{Line: 3, Money: true, Supplement: 1, Number: "00G-PPA", Numbers: []string{"00G-PPA"}, Maker: "Quern", Owner: "Gull Lane Garage", SerialSaid: "worn off", Registered: at("2026-11-24 16:00"), AfterLoss: true},
		{Line: 4, Money: true, Supplement: 1, Number: "00H-9Z2", Numbers: []string{"00H-9Z2"}, Kind: "torque wrench", Maker: "Tarn", Model: "TW-200", Serial: "77-1204", SerialKey: "771204", Owner: "Gull Lane Garage",
			Bought: "2012-01-10", Replacement: cents(320000), CostOf: "quote", CostSource: "Öl & Meßtechnik Núñez, Peña", CostDated: "2026-11-26", Claimed: cents(300000), Registered: at("2025-05-03 15:00"),
			Confirmed: at("2026-11-23 14:00"), Recovered: "2026-11-28", RecoveredBy: "serial number", RecoveredIn: "drive bent", Files: []claims.File{fileOf("P7", "plate", "photos/P7.jpg", "image/jpeg")}},
	}
	return s
}

// ofLines is the statement with so many lines of three photos each and long names.
func ofLines(paper string, n int) claims.Statement {
	s := theft(paper)
	s.Lines, s.Files = nil, nil
	for i := range n {
		number := fmt.Sprintf("%03d-A%02d", i/10, i%100)
		l := claims.Line{Line: int64(i + 1), Money: true, Supplement: 1, Number: number, Numbers: []string{number}, Kind: "insulated slip-joint pliers with a very long name of its kind", Maker: "Brindle & Sons Precision Hand Tools of the Upper Harbor",
			Model: fmt.Sprintf("BX-%04d-EXTRA-LONG-CATALOG-NUMBER-WITHOUT-A-BLANK-IN-IT/%d", i, i), Serial: fmt.Sprintf("SN%06d", i), SerialKey: fmt.Sprintf("SN%06d", i), Owner: "Gull Lane Garage",
			Bought: "2020-02-29", Price: cents(int64(1000 + i)), Replacement: cents(int64(2000 + 7*i)), CostOf: "quote", CostSource: "Gannet Tool Counter", CostDated: "2026-11-25", Claimed: cents(int64(1500 + i)),
			Notes: strings.Repeat("long notes ", i%9), Registered: at("2025-05-02 15:00"), Confirmed: at("2026-11-23 14:00")}
		for k, kind := range []string{"plate", "whole", "receipt"} {
			ref := fmt.Sprintf("P%d", 3*i+k+1)
			l.Files = append(l.Files, fileOf(ref, kind, "photos/"+ref+".jpg", "image/jpeg"))
		}
		s.Lines = append(s.Lines, l)
	}
	return s
}

// plates draws invented photos: a gray plate with stripes of its own.
type plates struct {
	w, h  int
	noisy bool
	kept  map[string][]byte
}

func (p *plates) photo(f claims.File) ([]byte, error) {
	if got, ok := p.kept[f.Ref]; ok {
		return got, nil
	}
	img := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
	seed := sha256.Sum256([]byte(f.Ref))
	x := uint32(seed[0])<<8 | uint32(seed[1]) | 1
	for y := range p.h {
		for i := range p.w {
			v := 120 + uint8(60*((i/17+y/11+int(seed[2]))%2))
			if p.noisy {
				x ^= x << 13
				x ^= x >> 17
				x ^= x << 5
				v += uint8(x % 40)
			}
			img.SetRGBA(i, y, color.RGBA{v, v - seed[3]/8, v, 255})
		}
	}
	var b bytes.Buffer
	if strings.HasSuffix(f.Path, ".png") {
		if err := png.Encode(&b, img); err != nil {
			return nil, err
		}
	} else if err := jpeg.Encode(&b, img, nil); err != nil {
		return nil, err
	}
	if p.kept != nil {
		p.kept[f.Ref] = b.Bytes()
	}
	return b.Bytes(), nil
}

func smallPhotos() Photo { return (&plates{w: 320, h: 240, kept: map[string][]byte{}}).photo }

// keptPart is one part of a document.
type keptPart struct {
	bytes.Buffer
	name string
}

func (*keptPart) Close() error { return nil }

func claimParts(t testing.TB, s claims.Statement, photo Photo, maxPart int64) (parts []*keptPart) {
	t.Helper()
	err := Claim(s, photo, maxPart, func(n, of int, name string) (io.WriteCloser, error) {
		parts = append(parts, &keptPart{name: name})
		return parts[len(parts)-1], nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return parts
}

// pdfText checks a document and gives its text in the order in which it is drawn.
func pdfText(t testing.TB, b []byte) (text string, pages int) {
	t.Helper()
	path := keep(t, b)
	outputOf(t, "qpdf", "--check", path)
	if dir := os.Getenv("PAWL_PICTURES"); dir != "" {
		name := strings.NewReplacer("/", "-", "#", "").Replace(t.Name())
		outputOf(t, "pdftoppm", "-r", "60", "-png", path, filepath.Join(dir, name+fmt.Sprint(len(b))))
	}
	raw := outputOf(t, "pdftotext", "-raw", path, "-")
	return strings.Join(strings.Fields(raw), " "), strings.Count(raw, "\f")
}
