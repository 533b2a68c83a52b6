package evidence

import (
	"fmt"
	"mime"
	"path"
	"strings"
	"unicode/utf8"

	"pawl/model/fault"
)

const familyOther = "other"

func familyOf(mediaType string) string {
	switch {
	case mediaType == TypePDF || mediaType == "application/x-pdf":
		return FamilyPDF
	case strings.HasPrefix(mediaType, "image/svg"):
		return familyOther // a document with scripts, whatever its name says
	case strings.HasPrefix(mediaType, "image/"):
		return FamilyPicture
	}
	return familyOther
}

// extensions gives the media type that an extension promises. One that is not
// here promises nothing.
var extensions = map[string]string{
	"jpg": TypeJPEG, "jpeg": TypeJPEG, "jpe": TypeJPEG, "jfif": TypeJPEG,
	"png": TypePNG, "webp": TypeWebP, "pdf": TypePDF,
	"heic": TypeHEIC, "heics": TypeHEIC, "heif": TypeHEIF, "heifs": TypeHEIF, "hif": TypeHEIF,
	"gif": "image/gif", "bmp": "image/bmp", "tif": "image/tiff", "tiff": "image/tiff",
	"avif": "image/avif", "dng": "image/x-adobe-dng", "jxl": "image/jxl",

	"svg": "image/svg+xml", "svgz": "image/svg+xml",
	"htm": "text/html", "html": "text/html", "xhtml": "application/xhtml+xml", "mht": "multipart/related",
	"txt": "text/plain", "md": "text/markdown", "csv": "text/csv", "tsv": "text/tab-separated-values",
	"xml": "application/xml", "json": "application/json", "js": "text/javascript", "mjs": "text/javascript",
	"css": "text/css", "rtf": "application/rtf", "ps": "application/postscript", "eps": "application/postscript",
	"zip": "application/zip", "gz": "application/gzip", "tar": "application/x-tar", "7z": "application/x-7z-compressed",
	"rar": "application/vnd.rar", "exe": "application/x-msdownload", "dll": "application/x-msdownload",
	"msi": "application/x-msi", "bat": "application/x-bat", "cmd": "application/x-bat", "com": "application/x-msdownload",
	"sh": "application/x-sh", "ps1": "text/plain", "vbs": "text/vbscript", "jar": "application/java-archive",
	"apk": "application/vnd.android.package-archive", "lnk": "application/x-ms-shortcut", "scr": "application/x-msdownload",
	"doc": "application/msword", "docx": "application/msword", "docm": "application/msword", "odt": "application/vnd.oasis.opendocument.text",
	"xls": "application/vnd.ms-excel", "xlsx": "application/vnd.ms-excel", "xlsm": "application/vnd.ms-excel",
	"ods": "application/vnd.oasis.opendocument.spreadsheet", "ppt": "application/vnd.ms-powerpoint", "pptx": "application/vnd.ms-powerpoint",
	"eml": "message/rfc822", "msg": "application/vnd.ms-outlook", "php": "application/x-php", "py": "text/x-python",
	"mp4": "video/mp4", "mov": "video/quicktime", "avi": "video/x-msvideo", "mkv": "video/x-matroska", "webm": "video/webm",
	"mp3": "audio/mpeg", "m4a": "audio/mp4", "wav": "audio/wav",
}

// compareNames holds a file's content against its name and its stated type.
// Another family is refused; another type of the same family is noted.
func compareNames(kind, name, declared string) (note string, err error) {
	ext := strings.ToLower(strings.TrimPrefix(path.Ext(name), "."))
	promised := extensions[ext]
	if promised != "" && familyOf(promised) != familyOf(kind) {
		return "", lying(kind, fmt.Sprintf("is named %s", quote(name)))
	}
	stated, err := statedType(declared)
	if err != nil {
		return "", err
	}
	if stated != "" && familyOf(stated) != familyOf(kind) {
		return "", lying(kind, fmt.Sprintf("was sent as %s", quote(declared)))
	}
	var notes []string
	if promised != "" && !sameType(promised, kind) {
		notes = append(notes, fmt.Sprintf("named .%s, but is %s", ext, shortName(kind)))
	}
	if stated != "" && !sameType(stated, kind) {
		notes = append(notes, fmt.Sprintf("sent as %s, but is %s", stated, shortName(kind)))
	}
	return joinNotes(notes...), nil
}

func lying(kind, how string) error {
	return fault.New(fault.Media, "the file is %s by its content, but %s", shortName(kind), how).
		WithHint("send it under a name and type that fit, or as application/octet-stream")
}

// statedType is the client's media type without parameters; empty when it
// commits to nothing.
func statedType(declared string) (string, error) {
	if strings.TrimSpace(declared) == "" {
		return "", nil
	}
	stated, _, err := mime.ParseMediaType(declared)
	if err != nil || !strings.Contains(stated, "/") {
		return "", fault.New(fault.Media, "%s is not a media type", quote(declared)).
			WithHint("leave it out, or send application/octet-stream").WithCause(err)
	}
	if stated == "application/octet-stream" || stated == "binary/octet-stream" {
		return "", nil
	}
	return stated, nil
}

// sameType is lenient where phones are: HEIC is one sort of HEIF, and JPEG has
// two older names.
func sameType(said, kind string) bool {
	switch strings.TrimSuffix(said, "-sequence") {
	case kind:
		return true
	case "image/jpg", "image/pjpeg":
		return kind == TypeJPEG
	case "application/x-pdf":
		return kind == TypePDF
	case TypeHEIC, TypeHEIF:
		return kind == TypeHEIC || kind == TypeHEIF
	}
	return false
}

func shortName(kind string) string {
	switch kind {
	case TypeJPEG:
		return "JPEG"
	case TypePNG:
		return "PNG"
	case TypeWebP:
		return "WebP"
	case TypeHEIC, TypeHEIF:
		return "HEIC"
	case TypePDF:
		return "PDF"
	}
	return kind
}

// quote shows text from outside in a message: escaped, and not at length.
func quote(text string) string {
	const most = 80
	if utf8.RuneCountInString(text) > most {
		text = string([]rune(text)[:most]) + "…"
	}
	return fmt.Sprintf("%q", text)
}
