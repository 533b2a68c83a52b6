package register

import (
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/pattern"
	"pawl/model/units"
)

// What can be wrong with a cell, for programs; anything else is "value".
const (
	codeValue      = "value"
	codeDate       = "date"
	codeAmbiguous  = "ambiguous"
	codeTwoDigits  = "two-digit year"
	codeDayNumber  = "day number"
	codeFuture     = "future"
	codeMoney      = "money"
	codeCurrency   = "currency"
	formatsOfDates = "formats tried: YYYY-MM-DD, DD/MM/YYYY, MM/DD/YYYY, 4 Mar 2024, Mar 4, 2024"
)

var (
	shapeYMD      = pattern.Late(`^([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})$`)
	shapeTwo      = pattern.Late(`^([0-9]{1,2})[-/.]([0-9]{1,2})[-/.]([0-9]{2}|[0-9]{4})$`)
	shapeDayMonth = pattern.Late(`^([0-9]{1,2})[-/. ]+([A-Za-z]{3,9})[-/., ]+([0-9]{2}|[0-9]{4})$`)
	shapeMonthDay = pattern.Late(`^([A-Za-z]{3,9})[-/. ]+([0-9]{1,2})[-/., ]+([0-9]{2}|[0-9]{4})$`)
	shapeNumber   = pattern.Late(`^[0-9]{1,6}(\.[0-9]+)?$`)
	midnight      = pattern.Late(`[T ]0{1,2}:00(:00(\.0+)?)?Z?$| 12:00:00 AM$`)
)

// dayOrder is the order of day and month in one column; empty is not known.
type dayOrder string

// orderOf is the order that was stated, or else the one that some value of the
// column allows alone while no other value forbids it.
func orderOf(all []string, stated string) dayOrder {
	if stated != "" {
		return dayOrder(stated)
	}
	var dmy, mdy bool
	for _, s := range all {
		if m := shapeTwo().FindStringSubmatch(plainDay(s)); m != nil {
			first, second := atoi(m[1]), atoi(m[2])
			dmy = dmy || first > 12 && first <= 31 && second <= 12
			mdy = mdy || second > 12 && second <= 31 && first <= 12
		}
	}
	switch {
	case dmy && !mdy:
		return "dmy"
	case mdy && !dmy:
		return "mdy"
	}
	return ""
}

func plainDay(s string) string { return midnight().ReplaceAllString(strings.TrimSpace(s), "") }

// day reads a day as YYYY-MM-DD.
func (r reader) day(value string) (clean, code string, err error) {
	s := plainDay(value)
	var d dates.Date
	switch {
	case shapeYMD().MatchString(s):
		m := shapeYMD().FindStringSubmatch(s)
		d, code, err = r.dayOf(m[1], atoi(m[2]), atoi(m[3]))
	case shapeTwo().MatchString(s):
		d, code, err = r.twoNumbers(shapeTwo().FindStringSubmatch(s))
	case shapeDayMonth().MatchString(s):
		m := shapeDayMonth().FindStringSubmatch(s)
		d, code, err = r.dayOf(m[3], monthNamed(m[2]), atoi(m[1]))
	case shapeMonthDay().MatchString(s):
		m := shapeMonthDay().FindStringSubmatch(s)
		d, code, err = r.dayOf(m[3], monthNamed(m[1]), atoi(m[2]))
	case shapeNumber().MatchString(s):
		d, code, err = r.dayNumber(s)
	default:
		return "", codeDate, notADate()
	}
	if err == nil && d.After(r.today) {
		return "", codeFuture, fault.New(fault.Invalid, "%s is in the future; today is %s", d, r.today)
	}
	return string(d), code, err
}

func notADate() error {
	return fault.New(fault.Invalid, "not a date (%s)", formatsOfDates)
}

// dayOf puts a day together, with a two-digit year in the century stated.
func (r reader) dayOf(year string, month, day int) (dates.Date, string, error) {
	y := atoi(year)
	if len(year) == 2 {
		if r.Century == 0 {
			return "", codeTwoDigits, fault.New(fault.Invalid, "the year has two digits").
				WithHint("write all four, or say --century 2000 or --century 1900 for all of them")
		}
		y += r.Century
	}
	d, err := dates.ParseDate(pad(y, 4) + "-" + pad(month, 2) + "-" + pad(day, 2))
	if err != nil {
		return "", codeDate, notADate()
	}
	return d, "", nil
}

// twoNumbers reads day and month in the order of the column.
func (r reader) twoNumbers(m []string) (dates.Date, string, error) {
	first, second := atoi(m[1]), atoi(m[2])
	asMDY, codeM, errM := r.dayOf(m[3], first, second)
	asDMY, codeD, errD := r.dayOf(m[3], second, first)
	switch {
	case errM != nil && errD != nil, r.order == "mdy":
		return asMDY, codeM, errM
	case r.order == "dmy":
		return asDMY, codeD, errD
	case errM != nil:
		return asDMY, "", nil
	case errD != nil || asMDY == asDMY:
		return asMDY, "", nil
	}
	return "", codeAmbiguous, fault.New(fault.Invalid, "it is %s with the month first and %s with the day first", asMDY, asDMY).
		WithHint("say which: --date-order mdy or --date-order dmy")
}

// dayNumber reads the count of days by which spreadsheets keep a day: from
// 1900, where 60 is a day that never was (ECMA-376 part 1, 18.17.4.1), or 1904.
func (r reader) dayNumber(s string) (dates.Date, string, error) {
	n := atoi(strings.SplitN(s, ".", 2)[0])
	if len(s) == 4 && n >= 1900 && n <= 2200 {
		return "", codeDate, fault.New(fault.Invalid, "a year alone is not a date (%s)", formatsOfDates)
	}
	d := dates.Date("1900-01-01").AddDays(n - 2)
	if r.date1904 {
		d = dates.Date("1904-01-01").AddDays(n)
	}
	if n <= 60 || d == "" {
		return "", codeDate, notADate()
	}
	if !r.DayNumbers {
		return "", codeDayNumber, fault.New(fault.Invalid, "it may be a spreadsheet's day number, which would be %s", d).
			WithHint("confirm with --day-numbers, or write the day as YYYY-MM-DD")
	}
	return d, "", nil
}

var months = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}

// monthNamed reads an English month or its first letters; 0 is none.
func monthNamed(name string) int {
	name = strings.ToLower(name)
	if name == "sept" {
		name = "sep"
	}
	for i, m := range months {
		if name == m || name == m[:3] {
			return i + 1
		}
	}
	return 0
}

func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

func pad(n, width int) string {
	s := strconv.Itoa(n)
	return strings.Repeat("0", max(width-len(s), 0)) + s
}

// signs are what people write for a currency besides its code.
var signs = map[string]string{
	"$": "USD CAD AUD NZD MXN SGD HKD", "US$": "USD", "C$": "CAD", "CA$": "CAD", "A$": "AUD", "AU$": "AUD", "NZ$": "NZD", "MX$": "MXN",
	"€": "EUR", "£": "GBP", "¥": "JPY CNY", "KR": "SEK NOK DKK ISK", "KR.": "DKK", "FR": "CHF", "FR.": "CHF", "SFR.": "CHF", "ZŁ": "PLN", "R$": "BRL", "₹": "INR",
}

// readMoney reads an amount as people and spreadsheets write it and gives the
// plain decimal of units.ParseMoney. Decimal, where not empty, is the decimal
// sign; a separator with exactly three digits after it and no other is
// ambiguous without it.
func readMoney(value, currency, decimal string) (clean, code string, err error) {
	s := strings.TrimSpace(strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2009", " ", "’", "'").Replace(value))
	figure := func(r rune) bool { return r >= '0' && r <= '9' || strings.ContainsRune(".,' ", r) }
	begin, end := strings.IndexFunc(s, isDigit), strings.LastIndexFunc(s, isDigit)
	if begin < 0 {
		return "", codeMoney, notMoney()
	}
	for begin > 0 && (s[begin-1] == '.' || s[begin-1] == ',') {
		begin--
	}
	for _, mark := range []string{s[:begin], s[end+1:]} {
		mark = strings.ToUpper(strings.TrimSpace(mark))
		if mark == "" {
			continue
		}
		if mark == "." || mark == "," {
			return "", codeMoney, notMoney()
		}
		if strings.ContainsAny(mark, "-+()−") {
			return "", codeMoney, fault.New(fault.Invalid, "an amount has no sign").WithHint("write what was paid, such as 1234.50")
		}
		if mark != currency && !strings.Contains(" "+signs[mark]+" ", " "+currency+" ") {
			return "", codeCurrency, fault.New(fault.Invalid, "%q is not how %s is written", fault.Clip(mark), currency).
				WithHint("amounts here are in %s; a column named Currency can say otherwise", currency)
		}
	}
	s = s[begin : end+1]
	if strings.IndexFunc(s, func(r rune) bool { return !figure(r) }) >= 0 {
		return "", codeMoney, notMoney()
	}
	plain, code, err := plainAmount(s, decimal)
	if err != nil {
		return "", code, err
	}
	plain = exactly(plain, currency)
	if _, err := units.ParseMoney(plain, currency); err != nil {
		return "", codeMoney, err
	}
	return plain, "", nil
}

func notMoney() error {
	return fault.New(fault.Invalid, "not an amount of money").WithHint("write it such as 1234.50 or $1,234.50")
}

func isDigit(r rune) bool { return r >= '0' && r <= '9' }

// plainAmount finds the decimal sign and takes the separators of thousands away.
func plainAmount(s, decimal string) (plain, code string, err error) {
	if decimal == "" {
		if decimal, err = decimalOf(s); err != nil {
			return "", codeAmbiguous, err
		}
	}
	major, minor := s, ""
	if decimal != "" {
		if strings.Count(s, decimal) > 1 {
			return "", codeMoney, notMoney()
		}
		major, minor, _ = strings.Cut(s, decimal)
	}
	if strings.IndexFunc(minor, func(r rune) bool { return !isDigit(r) }) >= 0 || decimal != "" && strings.HasSuffix(s, decimal) {
		return "", codeMoney, notMoney()
	}
	if i := strings.IndexFunc(major, func(r rune) bool { return !isDigit(r) }); i >= 0 {
		groups := strings.Split(major, major[i:i+1])
		for n, g := range groups {
			bad := strings.IndexFunc(g, func(r rune) bool { return !isDigit(r) }) >= 0
			if bad || n > 0 && len(g) != 3 || n == 0 && (len(g) < 1 || len(g) > 3) {
				return "", codeMoney, notMoney()
			}
		}
		major = strings.Join(groups, "")
	}
	if major == "" {
		major = "0"
	}
	if minor == "" {
		return major, "", nil
	}
	return major + "." + minor, "", nil
}

// decimalOf is the sign that can only be the decimal sign; empty where there is
// none.
func decimalOf(s string) (string, error) {
	dot, comma := strings.LastIndexByte(s, '.'), strings.LastIndexByte(s, ',')
	at := max(dot, comma)
	if at < 0 {
		return "", nil
	}
	sign := s[at : at+1]
	switch {
	case dot >= 0 && comma >= 0, strings.ContainsAny(s[:at], "' "):
		return sign, nil
	case strings.Count(s, sign) > 1:
		return "", nil
	case len(s)-at-1 == 3 && at >= 1 && at <= 3 && s[0] != '0':
		other := map[string]string{".": ",", ",": "."}[sign]
		return "", fault.New(fault.Invalid, "%q may be a decimal sign or one of thousands: %s or %s", sign, s[:at]+s[at+1:], s[:at]+"."+s[at+1:]).
			WithHint("say which sign is the decimal one: --decimal %s or --decimal %s", sign, other)
	}
	return sign, nil
}

// significant is how many digits of a number a spreadsheet shows.
const significant = 15

// exactly drops zeros beyond the currency's decimals, and what a spreadsheet's
// binary numbers leave behind: 1234.5599999999999 is 1234.56.
func exactly(plain, currency string) string {
	major, minor, _ := strings.Cut(plain, ".")
	if len(minor) > 6 && len(major)+len(minor) > significant {
		if f, err := strconv.ParseFloat(plain, 64); err == nil {
			short, err := strconv.ParseFloat(strconv.FormatFloat(f, 'e', significant-1, 64), 64)
			if err == nil {
				major, minor, _ = strings.Cut(strconv.FormatFloat(short, 'f', -1, 64), ".")
			}
		}
	}
	digits, err := units.Currency(currency)
	for err == nil && len(minor) > digits && minor[len(minor)-1] == '0' {
		minor = minor[:len(minor)-1]
	}
	if minor == "" {
		return major
	}
	return major + "." + minor
}

var shapeMonths = pattern.Late(`(?i)^([0-9]{1,4})(\.0+)?( *(mo|mon|month|months)\.?)?$`)

// readWhole reads a number of months.
func readWhole(value string) (clean, code string, err error) {
	m := shapeMonths().FindStringSubmatch(strings.TrimSpace(value))
	if m == nil {
		return "", codeValue, fault.New(fault.Invalid, "not a number of months").WithHint("write it such as 24")
	}
	return m[1], "", nil
}

func (e *Entry) setWarranty(s string) {
	n := int64(atoi(s))
	e.WarrantyMonths = &n
}

func warrantyMonths(r Record) string {
	if r.Tool.WarrantyMonths == 0 {
		return ""
	}
	return strconv.FormatInt(r.Tool.WarrantyMonths, 10)
}

// readPieces reads loose pieces, one a line, or with semicolons between them.
func readPieces(value string) (Pieces, error) {
	value = strings.ReplaceAll(value, "\r\n", "\n")
	between := ";"
	if strings.Contains(value, "\n") {
		between = "\n"
	}
	var all Pieces
	for _, s := range strings.Split(value, between) {
		if strings.TrimSpace(s) == "" {
			continue
		}
		p, err := ParsePiece(s)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all.checked()
}

func (e *Entry) setPieces(s string) {
	p, err := readPieces(s)
	if err == nil {
		e.Pieces = &p
	}
}

// pieces writes one a line. A line break at the end keeps a semicolon in the
// name of a single one from being taken for a separator.
func pieces(r Record) string {
	var b strings.Builder
	for i, p := range r.Tool.Pieces {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(p.Name)
		if p.Count != 1 || strings.Contains(p.Name, "*") {
			b.WriteString("*" + strconv.Itoa(p.Count))
		}
	}
	if len(r.Tool.Pieces) == 1 && strings.Contains(b.String(), ";") {
		b.WriteByte('\n')
	}
	return b.String()
}
