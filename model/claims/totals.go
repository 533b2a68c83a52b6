package claims

import (
	"math"
	"strconv"
	"strings"
	"time"

	"pawl/model/fault"
	"pawl/model/units"
)

// Sum is what the lines add up to, and how many of them have no amount: a total that
// leaves lines out says so.
type Sum struct {
	Minor   int64
	Of      int // lines with an amount
	Without int // lines of which none is known
}

// Totals are the sums of a statement's lines, to the cent.
type Totals struct {
	Lines       int
	Price       Sum
	Tax         Sum
	Owed        Sum
	Replacement Sum
	ActualCash  Sum
	Market      Sum
	Claimed     Sum // of those that did not come back

	Recovered   int // lines that came back; their amounts are in the sums, but for what is claimed
	ClaimedBack Sum // what was claimed of those, and is asked for no more
	AfterLoss   int // lines recorded after the loss
}

// add counts one line. False where the sum is beyond what can be counted.
func (s *Sum) add(minor *int64) bool {
	if minor == nil {
		s.Without++
		return true
	}
	if *minor > math.MaxInt64-s.Minor {
		return false
	}
	s.Of++
	s.Minor += *minor
	return true
}

// Totals adds the lines up. A statement that Check passes has them.
func (s Statement) Totals() Totals {
	t, _ := s.totals()
	return t
}

func (s Statement) totals() (t Totals, fits bool) {
	fits = true
	for _, l := range s.Lines {
		t.Lines++
		claimed := &t.Claimed
		if l.Recovered != "" {
			t.Recovered++
			claimed = &t.ClaimedBack
		}
		if l.AfterLoss {
			t.AfterLoss++
		}
		for _, a := range []struct {
			sum   *Sum
			minor *int64
		}{{&t.Price, l.Price}, {&t.Tax, l.Tax}, {&t.Owed, l.Owed}, {&t.Replacement, l.Replacement}, {&t.ActualCash, l.ActualCash}, {&t.Market, l.Market}, {claimed, l.Claimed}} {
			fits = a.sum.add(a.minor) && fits
		}
	}
	return t, fits
}

// Check refuses a statement of which no paper can be drawn, or that holds what nobody
// asked for.
func (s Statement) Check() error {
	if s.Format != Format {
		return fault.At("#/format", "%q is not a statement that is understood here", s.Format).WithHint("this program reads %q", Format)
	}
	if _, err := time.LoadLocation(s.Zone); err != nil || s.Zone == "" || s.Zone == "Local" {
		return fault.At("#/zone", "%q is not a zone", s.Zone).WithHint("use an IANA name such as America/Chicago")
	}
	if _, err := units.Currency(s.Currency); err != nil {
		return fault.At("#/currency", "%q is not a currency", s.Currency).WithHint("use the three capital letters of ISO 4217, such as USD")
	}
	switch s.Kind {
	case Insurance, Warranty, Ownership:
	default:
		return fault.At("#/kind", "%q is not a kind of claim", string(s.Kind)).WithHint("use insurance, warranty or ownership")
	}
	seen := map[int64]bool{}
	for _, l := range s.Lines {
		if l.Line < 1 || seen[l.Line] {
			return fault.At("#/lines", "line number %d is not one of its own", l.Line).WithHint("each line has a number from 1, which no other has")
		}
		seen[l.Line] = true
		if err := s.checkLine(l); err != nil {
			return err
		}
	}
	if _, fits := s.totals(); !fits {
		return fault.At("#/lines", "the amounts of %d lines add up to more than can be counted", len(s.Lines)).WithHint("check the amounts")
	}
	return s.checkFiles()
}

func (s Statement) checkLine(l Line) error {
	for _, a := range []*int64{l.Price, l.Tax, l.Owed, l.Replacement, l.ActualCash, l.Market, l.Claimed} {
		if a != nil && *a < 0 {
			return fault.At("#/lines", "line %d holds an amount below zero: %s", l.Line, s.Money(a)).WithHint("give what it costs, not what is lost")
		}
	}
	if l.ActualCash != nil && !s.Has(AddActualCash) || l.Market != nil && !s.Has(AddMarket) {
		return fault.At("#/lines", "line %d holds a value that was not asked for", l.Line).
			WithHint("ask for %s or %s when the packet is built", AddActualCash, AddMarket)
	}
	return nil
}

// checkFiles refuses one name for two files.
func (s Statement) checkFiles() error {
	called := map[string]string{}
	all := append([]File{}, s.Files...)
	for _, l := range s.Lines {
		all = append(all, l.Files...)
	}
	for _, f := range all {
		if sum, known := called[f.Ref]; f.Ref == "" || known && sum != f.SHA256 {
			return fault.At("#/files", "%q is not a name of one file", f.Ref).WithHint("each photo and paper is called by a name such as P12, which no other has")
		}
		called[f.Ref] = f.SHA256
	}
	return nil
}

// MostPart is the largest part, in bytes, that a claim document can be divided into: more
// than any mail program takes. Whether the letters of one line have room in a small one
// shows when it is drawn.
const MostPart = 1 << 30

// ParseSize reads how large a part may be: 10MB is 10,000,000 bytes, 500kB are 500,000,
// a bare number is bytes. What is none is Malformed.
func ParseSize(text string) (int64, error) {
	number, factor := strings.TrimSpace(text), int64(1)
	for _, unit := range []struct {
		name   string
		factor int64
	}{{"GB", 1e9}, {"MB", 1e6}, {"KB", 1e3}, {"B", 1}} {
		if before, ok := strings.CutSuffix(strings.ToUpper(number), unit.name); ok {
			number, factor = strings.TrimSpace(before), unit.factor
			break
		}
	}
	n, err := strconv.ParseInt(number, 10, 64)
	if err != nil || strings.HasPrefix(number, "+") {
		return 0, fault.New(fault.Malformed, "%.40q is not a size for a part", text).WithHint("write it as 10MB: 10,000,000 bytes")
	}
	if n < 1 || n > MostPart/factor {
		return 0, fault.New(fault.Malformed, "a part cannot be of %.40s", text).WithHint("use 1 byte to %d, such as 10MB", MostPart)
	}
	return n * factor, nil
}
