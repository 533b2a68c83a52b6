// Package jobs holds repair orders. A job has a number, a vehicle and whether
// it is safety-critical: yes, no or unknown, and unknown counts as yes.
package jobs

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Safety says whether a job is safety-critical.
type Safety string

const (
	Yes     Safety = "yes"
	No      Safety = "no"
	Unknown Safety = "unknown"
)

// Critical says whether the job must be treated as safety-critical: only a
// plain no is not.
func (s Safety) Critical() bool { return s != No }

// ParseSafety takes yes, no or unknown.
func ParseSafety(s string) (Safety, error) {
	switch v := Safety(strings.ToLower(strings.TrimSpace(s))); v {
	case Yes, No, Unknown:
		return v, nil
	}
	return "", fault.New(fault.Invalid, "safety is %q", s).WithHint("use yes, no or unknown; unknown counts as yes")
}

// Job is the recorded row of a repair order.
type Job struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Number    string // as on the repair order
	NumberKey string // upper case; unique
	Vehicle   string
	VIN       string `gorm:"column:vin"`
	Safety    Safety
	Opened    dates.Instant
	Closed    dates.Instant // 0 = open
	ClosedBy  string        // person id; empty = the shop

	// A manager closed it over what was open: for ever on record, and printed.
	OverrideWhy string
	OverrideBy  string
	OverrideAt  dates.Instant

	ReopenedAt  dates.Instant // the last time
	ReopenedBy  string
	ReopenedWhy string
}

// TableName names the table of jobs.
func (Job) TableName() string { return "jobs" }

// MaxNumber is the longest job number, in characters.
const MaxNumber = 32

// CheckNumber returns the job number without outer spaces and its key. It is
// Invalid when empty, too long, or with anything but letters, digits, - / . _ #.
func CheckNumber(s string) (number, key string, err error) {
	number = strings.TrimSpace(norm.NFC.String(s))
	if number == "" || utf8.RuneCountInString(number) > MaxNumber {
		return "", "", fault.New(fault.Invalid, "job number %.40q is empty or over %d characters", s, MaxNumber)
	}
	for _, r := range number {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-/._#", r) {
			return "", "", fault.New(fault.Invalid, "job number %q holds %q", s, r).WithHint("letters, digits and - / . _ # are taken")
		}
	}
	return number, strings.ToUpper(number), nil
}
