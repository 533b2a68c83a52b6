package model

import (
	"net/url"
	"strings"
	"unicode"

	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/settings"
)

// readScanned reads one line that a scanner gave and that will change something without
// anybody seeing the tool first. It takes our own symbol `T/00EKM5`, a link to a tool at
// this shop's address, or a number with its hyphen as it is printed, `00E-KM5`. Anything
// else is Invalid with what to do: every shop counts its numbers from one, so a label
// with another's address is of another's tool, and a bare number may be any barcode.
func readScanned(set settings.Settings, text string) (numbers.Number, error) {
	line := strings.TrimFunc(text, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	if n, err := numbers.ParseExact(line); err == nil && line == n.String() {
		return n, nil
	}
	sym, err := numbers.ParseSymbol(line)
	switch {
	case err != nil:
		return "", err
	case sym.Kind != numbers.Tool:
		return "", fault.New(fault.Invalid, "%q is the code of a %s, not of a tool", line, sym.Kind).WithHint("scan the label of a tool")
	}
	return sym.Number(), ownLink(set, line)
}

// ownLink refuses a link to another address than the shop's.
func ownLink(set settings.Settings, line string) error {
	own := ""
	if link, err := url.Parse(set.Address); err == nil {
		own = strings.ToLower(link.Host)
	}
	host := numbers.ForeignHost(line, own)
	switch {
	case host == "":
		return nil
	case own == "":
		return fault.New(fault.Invalid, "that label carries the address %.80s, and this shop has none", host).
			WithHint("if the label is of this shop, type the number with its hyphen; the shop's address is set with: pawl settings --address")
	}
	return fault.New(fault.Invalid, "that label carries the address %.80s, which is not this shop's", host).
		WithHint("it may be of another shop's tool; if it is of this shop, type the number with its hyphen")
}
