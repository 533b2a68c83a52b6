package numbers

import (
	"net/netip"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// What a symbol may stand for.
const (
	Tool  = "tool"
	Badge = "badge"
	Place = "place"
	Job   = "job"
	Card  = "card"
)

// Symbol is what a scanner read: its kind, and the code in upper case. The code
// of a tool is a valid Number, that of a card TAKE, RETURN or UNDO.
type Symbol struct {
	Kind string
	Code string
}

// Number returns the tool number of a tool symbol, none of any other.
func (s Symbol) Number() Number {
	if s.Kind != Tool {
		return ""
	}
	return Number(s.Code)
}

// maxScan is far beyond any symbol that we print; QR version 40 holds 4,296
// characters (ISO/IEC 18004).
const maxScan = 4296

var (
	linkShape  = pattern.Late(`^(?i:HTTPS?)://(?:[0-9A-Za-z._~-]+|\[([0-9A-Fa-f:.]+)\])(?::[0-9]{1,5})?/[Tt]/([0-9A-Za-z-]+)/?(?:[?#].*)?$`)
	codeShape  = pattern.Late(`^[0-9A-Z][0-9A-Z-]{0,31}$`)
	jobShape   = pattern.Late(`^[0-9A-Z](?:[0-9A-Z $%*+./:-]{0,62}[0-9A-Z])?$`)
	prefixKind = []struct {
		prefix, kind string
		shape        func() *regexp.Regexp
	}{
		{"B/", Badge, codeShape},
		{"P/", Place, codeShape},
		{"JOB:", Job, jobShape},
		{"CARD:", Card, pattern.Late(`^(?:TAKE|RETURN|UNDO)$`)},
	}
)

// ParseSymbol reads one line from a scanner: `HTTPS://HOST/T/NUMBER` of any host
// (http too, with a port, a final slash, a query or fragment), `T/NUMBER`,
// `B/CODE`, `P/CODE`, `JOB:NUMBER`, `CARD:TAKE`, `CARD:RETURN` or `CARD:UNDO`, in
// either case, within white space and control characters. Look-alikes are not folded. A bare
// number is refused: any stray barcode could read like one.
func ParseSymbol(scanned string) (Symbol, error) {
	line := strings.TrimFunc(scanned, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	if line == "" || len(line) > maxScan {
		return Symbol{}, notASymbol(line, "scan a label, badge or card of this shop")
	}
	if symbol, ok := readSymbol(line); ok {
		return symbol, nil
	}
	if throughLayout(line) {
		return Symbol{}, notASymbol(line, LayoutHint)
	}
	if _, err := ParseExact(line); err == nil {
		return Symbol{}, notASymbol(line, "a bare number could be any barcode: scan the square symbol, or type the number")
	}
	return Symbol{}, notASymbol(line, "scan a label, badge or card of this shop")
}

// LayoutHint is what helps where a line looks like a symbol of ours that was read
// through another keyboard.
const LayoutHint = "check the scanner's keyboard layout"

func notASymbol(line, hint string) error {
	return fault.New(fault.Invalid, "%q is not a symbol of ours", fault.Clip(line)).WithHint("%s", hint)
}

func readSymbol(line string) (Symbol, bool) {
	if m := linkShape().FindStringSubmatch(line); m != nil {
		// What stands in brackets is an address of IPv6 (RFC 3986 section 3.2.2).
		if addr, err := netip.ParseAddr(m[1]); m[1] != "" && (err != nil || !addr.Is6()) {
			return Symbol{}, false
		}
		return toolSymbol(m[2])
	}
	text := upperText(line)
	if rest, ok := strings.CutPrefix(text, "T/"); ok {
		return toolSymbol(rest)
	}
	for _, p := range prefixKind {
		if code, ok := strings.CutPrefix(text, p.prefix); ok && p.shape().MatchString(code) {
			return Symbol{p.kind, code}, true
		}
	}
	return Symbol{}, false
}

func toolSymbol(code string) (Symbol, bool) {
	n, err := ParseExact(code)
	return Symbol{Tool, string(n)}, err == nil
}

// ForeignHost is the host of a link on a label that is none of the shop's own, which are
// in lower case; "" for one of these, and for what is no link. A link of which no host
// can be read is foreign as it stands. Every shop counts its numbers from one, so such a
// label may be of another's tool.
func ForeignHost(scanned string, own ...string) string {
	line := strings.TrimFunc(scanned, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	link, err := url.Parse(line)
	if err != nil || link.Host == "" {
		if strings.Contains(line, "://") {
			return line
		}
		return ""
	}
	if host := strings.ToLower(link.Host); !slices.Contains(own, host) {
		return host
	}
	return ""
}

func upperText(s string) string {
	b := []byte(s)
	for i := range b {
		b[i] = upper(b[i])
	}
	return string(b)
}

// layouts hold what a keyboard other than the US one makes of the keys that a
// scanner presses, as pairs of made and meant characters. Only the keys that our
// symbols need are listed. From memory: interfaces 1.4 marks them so too.
var layouts = []*strings.Replacer{
	// QWERTZ as in Germany
	strings.NewReplacer("Z", "Y", "Y", "Z", "z", "y", "y", "z", "-", "/", "Ö", ":", "ö", ":", "ß", "-"),
	// AZERTY as in France, digits unshifted
	strings.NewReplacer("Q", "A", "A", "Q", "W", "Z", "Z", "W", "q", "a", "a", "q", "w", "z", "z", "w",
		"?", "M", ",", "m", "M", ":", "m", ";", "!", "/", "§", "/", ")", "-", ":", ".", ";", ",",
		"à", "0", "&", "1", "é", "2", `"`, "3", "'", "4", "(", "5", "-", "6", "è", "7", "_", "8", "ç", "9"),
	// QWERTY as in Spain
	strings.NewReplacer("-", "/", "Ñ", ":", "ñ", ":", "'", "-"),
}

// throughLayout says whether the line would be a tool's symbol had the keyboard
// been another. It is never taken for that tool.
func throughLayout(line string) bool {
	for _, layout := range layouts {
		if symbol, ok := readSymbol(layout.Replace(line)); ok && symbol.Kind == Tool {
			return true
		}
	}
	return false
}
