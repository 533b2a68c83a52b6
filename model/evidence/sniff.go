package evidence

import (
	"bytes"
	"encoding/binary"
	"slices"
	"strings"

	"github.com/gabriel-vasile/mimetype"

	"pawl/model/fault"
)

// sniff names the media type of a file by its first bytes. The six types that
// are taken are told here, by signature at the very start: the general detector
// takes a photo whose comment holds "%PDF-" for a PDF. It names what is refused.
func sniff(head []byte) (string, error) {
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xD8, 0xFF}):
		return TypeJPEG, nil
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")):
		return TypePNG, nil
	case len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP":
		return TypeWebP, nil
	case bytes.HasPrefix(head, []byte("%PDF-")):
		return TypePDF, nil
	}
	if kind := sniffHEIC(head); kind != "" {
		return kind, nil
	}
	if len(head) == 0 {
		return "", notTaken("the file is empty")
	}
	look, _, _ := strings.Cut(mimetype.Detect(head).String(), ";")
	if look == "application/octet-stream" {
		return "", notTaken("the file is of no known type")
	}
	return "", notTaken("the file looks like " + look)
}

func notTaken(reason string) error {
	return fault.New(fault.Media, "%s, which is not taken", reason).
		WithHint("photos are JPEG, PNG, WebP or HEIC; papers may also be PDF")
}

// sniffHEIC reads the brands of a file type box (ISO/IEC 14496-12, 4.3): size,
// "ftyp", major brand, minor version, compatible brands. heic and heix mean HEVC
// pictures; mif1 alone any picture in that container, unless it says AVIF.
func sniffHEIC(head []byte) string {
	if len(head) < 16 || string(head[4:8]) != "ftyp" {
		return ""
	}
	size := int64(binary.BigEndian.Uint32(head))
	if size < 16 || size > int64(len(head)) {
		return ""
	}
	brands := []string{string(head[8:12])}
	for i := 16; i+4 <= int(size); i += 4 {
		brands = append(brands, string(head[i:i+4]))
	}
	switch {
	case slices.Contains(brands, "avif") || slices.Contains(brands, "avis"):
		return ""
	case slices.Contains(brands, "heic") || slices.Contains(brands, "heix"):
		return TypeHEIC
	case slices.Contains(brands, "mif1"):
		return TypeHEIF
	}
	return ""
}

// checkPDFEnd looks for the end-of-file marker (ISO 32000-1, 7.5.5), which
// programs commonly find within the last 1,024 bytes; twice that is searched,
// because some scanners append to it.
func checkPDFEnd(src *source) error {
	const tail = 2048
	if bytes.Contains(src.at(max(0, src.size-tail), tail), []byte("%%EOF")) {
		return nil
	}
	return fault.New(fault.Invalid, "the PDF is cut short: it has no end marker").WithHint("send the whole file")
}
