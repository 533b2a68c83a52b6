// Package settings holds what one shop decides once: its name, time zone,
// currency, the address that labels link to, paper and units. They are set
// with their defaults, and recorded, at the first write.
package settings

import (
	"strings"
	"time"

	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/pattern"
	"pawl/model/stamp"
	"pawl/model/units"
)

// ID is the id of the one row.
const ID = "settings"

// Paper is the sheet size that documents are set on.
type Paper string

const (
	Letter Paper = "letter"
	A4     Paper = "a4"
)

// Units says which system comes first on screen and paper; both are printed.
type Units string

const (
	Metric Units = "metric"
	US     Units = "us"
)

// Settings is the recorded row.
type Settings struct {
	ID       string `gorm:"primaryKey"`
	Rev      int64
	Name     string
	Zone     string // IANA time zone
	Currency string // ISO 4217
	Address  string // scheme and host for links on labels; empty = none
	Paper    Paper
	Units    Units

	// DefaultLimitsPercent is how far from the value an answer takes a job to permit
	// where nobody gave its limits: more than 0 and less than 100; empty = nothing is
	// taken.
	DefaultLimitsPercent string

	// PlainHTTP permits a server to answer others than this computer without a
	// certificate: all of it can be read and changed on the way.
	PlainHTTP bool

	Lead `gorm:"embedded;embeddedPrefix:lead_"`

	LongOutDays *int64 // days after which a tool that is out is long out; nil = the usual ones, see LongOut

	TimeAuthority      string // address of the time-stamp authority; empty = none
	TimeAuthorityRoots string // certificates, in PEM, that its own must lead to; empty = not checked
}

// TableName names the table of settings.
func (Settings) TableName() string { return "settings" }

// Default is what a new shop starts with.
func Default() Settings {
	return Settings{ID: ID, Name: "Our shop", Zone: "UTC", Currency: "USD", Paper: Letter, Units: US}
}

// Location loads the shop's time zone.
func (s Settings) Location() (*time.Location, error) {
	loc, err := time.LoadLocation(s.Zone)
	if err != nil || s.Zone == "" || s.Zone == "Local" {
		return nil, fault.New(fault.Invalid, "%q is not a time zone", s.Zone).WithHint("use an IANA name such as America/Chicago")
	}
	return loc, nil
}

// Change holds new values; nil leaves one as it is.
type Change struct {
	Name     *string `json:"name,omitempty"`
	Zone     *string `json:"zone,omitempty"`
	Currency *string `json:"currency,omitempty"`
	Address  *string `json:"address,omitempty"`
	Paper    *string `json:"paper,omitempty"`
	Units    *string `json:"units,omitempty"`

	DefaultLimitsPercent *string `json:"default_limits_percent,omitempty"`

	PlainHTTP *bool `json:"plain_http,omitempty"`

	LeadChange

	LongOutDays *int64 `json:"long_out_days,omitempty"` // 1 to 366

	TimeAuthority      *string `json:"time_authority,omitempty"`
	TimeAuthorityRoots *string `json:"time_authority_roots,omitempty"`
}

// usualLongOut is our choice, and not that of any published rule.
const usualLongOut = 14

// LongOut gives after how many days a tool that is out counts as long out.
func (s Settings) LongOut() int64 {
	if s.LongOutDays == nil {
		return usualLongOut
	}
	return *s.LongOutDays
}

// Apply returns the settings with the change, or every value at fault.
func (c Change) Apply(s Settings) (Settings, error) {
	var bad fault.Problems
	if c.Name != nil {
		name, err := names.Check(*c.Name)
		bad.Keep("#/name", err)
		s.Name = name
	}
	if c.Zone != nil {
		s.Zone = strings.TrimSpace(*c.Zone)
		_, err := s.Location()
		bad.Keep("#/zone", err)
	}
	if c.Currency != nil {
		s.Currency = strings.ToUpper(strings.TrimSpace(*c.Currency))
		_, err := units.Currency(s.Currency)
		bad.Keep("#/currency", err)
	}
	if c.Address != nil {
		s.Address = ""
		if *c.Address != "" {
			base, err := numbers.CheckBase(*c.Address)
			bad.Keep("#/address", err)
			s.Address = base
		}
	}
	if c.Paper != nil {
		s.Paper = Paper(strings.ToLower(*c.Paper))
		if s.Paper != Letter && s.Paper != A4 {
			bad.Add("#/paper", "%q is not a paper; use letter or a4", *c.Paper)
		}
	}
	if c.Units != nil {
		s.Units = Units(strings.ToLower(*c.Units))
		if s.Units != Metric && s.Units != US {
			bad.Add("#/units", "%q is not a choice of units; use metric or us", *c.Units)
		}
	}
	if c.DefaultLimitsPercent != nil {
		percent, err := checkPercent(*c.DefaultLimitsPercent)
		bad.Keep("#/default_limits_percent", err)
		s.DefaultLimitsPercent = percent
	}
	if c.PlainHTTP != nil {
		s.PlainHTTP = *c.PlainHTTP
	}
	s.Lead = c.LeadChange.over(s.Lead, &bad)
	if n := c.LongOutDays; n != nil {
		if *n < 1 || *n > mostLead {
			bad.Add("#/long_out_days", "%d days; give 1 to %d", *n, mostLead)
		}
		s.LongOutDays = n
	}
	c.timeAuthority(&s, &bad)
	return s, bad.Err()
}

// maxRoots is far beyond a few certificates in PEM, in bytes.
const maxRoots = 64 << 10

// timeAuthority takes in who dates what is signed.
func (c Change) timeAuthority(s *Settings, bad *fault.Problems) {
	if c.TimeAuthority != nil {
		s.TimeAuthority = strings.TrimSpace(*c.TimeAuthority)
		if s.TimeAuthority != "" {
			bad.Keep("#/time_authority", stamp.CheckURL(s.TimeAuthority))
		}
	}
	if c.TimeAuthorityRoots == nil {
		return
	}
	s.TimeAuthorityRoots = strings.TrimSpace(*c.TimeAuthorityRoots)
	switch {
	case len(s.TimeAuthorityRoots) > maxRoots:
		bad.Add("#/time_authority_roots", "certificates of %d bytes; give up to %d", len(s.TimeAuthorityRoots), maxRoots)
	case s.TimeAuthorityRoots != "":
		_, err := stamp.ParseRoots(s.TimeAuthorityRoots)
		bad.Keep("#/time_authority_roots", err)
	}
}

var plainDecimal = pattern.Late(`^[0-9]{1,2}(\.[0-9]{1,6})?$`)

// checkPercent reads "4", "4 %" or "±4%": more than 0 and less than 100; "" is none.
func checkPercent(s string) (string, error) {
	text := strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(s), "±"), "%"))
	if text == "" {
		return "", nil
	}
	if !plainDecimal().MatchString(text) || strings.Trim(text, "0.") == "" {
		return "", fault.New(fault.Invalid, "%q is no percent more than 0 and less than 100", s).WithHint("write it as 4; empty for none")
	}
	return text, nil
}
