package numbers

import (
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Symbol returns the text of the symbol on the tool's label: `T/00EKM5`, or with
// a base as CheckBase returns it the link `HTTPS://SHOP.EXAMPLE/T/00EKM5`, in
// upper case so that it stays within the alphanumeric mode of a QR code.
func (n Number) Symbol(base string) string {
	if base == "" {
		return "T/" + string(n)
	}
	return upperText(base) + "/T/" + string(n)
}

var (
	baseShape  = pattern.Late(`^(https?)://([^/?#@]+?)(?::([0-9]+))?/?$`)
	labelShape = pattern.Late(`^[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?$`)
)

// CheckBase reads an address for links: http or https, a host and perhaps a port,
// nothing else, all within the 45 characters of a QR code's alphanumeric mode. It
// returns it in lower case without a final slash.
func CheckBase(s string) (string, error) {
	text := lowerText(strings.TrimSpace(s))
	m := baseShape().FindStringSubmatch(text)
	if m == nil {
		return "", notABase(s, "write it like https://shop.example or http://192.168.1.20:8080, with nothing after the host and port")
	}
	if len(m[2]) > 253 {
		return "", notABase(s, "a host has at most 253 characters")
	}
	for label := range strings.SplitSeq(m[2], ".") {
		if !labelShape().MatchString(label) {
			return "", notABase(s, "a host is letters, digits, hyphens and dots; write other letters in their xn-- form, and an IPv6 address as a name")
		}
	}
	if m[3] != "" {
		if port, err := strconv.Atoi(m[3]); err != nil || port < 1 || port > 65535 || m[3][0] == '0' {
			return "", notABase(s, "a port is a number from 1 to 65535")
		}
	}
	return strings.TrimSuffix(text, "/"), nil
}

// lowerText works on ASCII alone: Unicode would turn a Kelvin sign into k.
func lowerText(s string) string {
	b := []byte(s)
	for i, c := range b {
		if 'A' <= c && c <= 'Z' {
			b[i] = c - 'A' + 'a'
		}
	}
	return string(b)
}

func notABase(s, hint string) error {
	return fault.New(fault.Invalid, "%q cannot be the address of links", fault.Clip(s)).WithHint("%s", hint)
}
