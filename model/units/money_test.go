package units

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// Digits as in ISO 4217: two for the dollar, none for the yen, three for the
// Kuwaiti dinar (from memory).
func TestParseMoneyFollowsTheCurrency(t *testing.T) {
	for _, c := range []struct {
		typed, currency string
		want            Money
		text            string
	}{
		{"289.00", "USD", Money{28900, "USD"}, "289.00 USD"},
		{"289", "USD", Money{28900, "USD"}, "289.00 USD"},
		{"1234.5", "USD", Money{123450, "USD"}, "1234.50 USD"},
		{"0", "USD", Money{0, "USD"}, "0.00 USD"},
		{"0.05", "USD", Money{5, "USD"}, "0.05 USD"},
		{"007.10", "EUR", Money{710, "EUR"}, "7.10 EUR"},
		{"289", "JPY", Money{289, "JPY"}, "289 JPY"},
		{"1.234", "KWD", Money{1234, "KWD"}, "1.234 KWD"},
		{"1000000000000.00", "USD", Money{100_000_000_000_000, "USD"}, "1000000000000.00 USD"},
	} {
		got, err := ParseMoney(c.typed, c.currency)
		if err != nil || got != c.want || got.String() != c.text {
			t.Errorf("ParseMoney(%q, %s) = %v %q, %v; want %v %q", c.typed, c.currency, got, got, err, c.want, c.text)
		}
	}
}

func TestParseMoneyRefuses(t *testing.T) {
	for _, c := range []struct{ typed, currency string }{
		{"289.005", "USD"}, {"289.000", "USD"}, {"289.5", "JPY"}, {"1.2345", "KWD"},
		{"", "USD"}, {"-1", "USD"}, {"+1", "USD"}, {" 1", "USD"}, {"1.", "USD"}, {".5", "USD"}, {"1,234.50", "USD"}, {"1e3", "USD"},
		{"$5", "USD"}, {"NaN", "USD"}, {"0x10", "USD"}, {"٣", "USD"}, {"1\n", "USD"},
		{"1000000000000.01", "USD"}, {"9999999999999", "USD"}, {"99999999999999999999999", "USD"},
		{"1", "usd"}, {"1", ""}, {"1", "XXX"}, {"1", "QQQ"}, {"1", "DOLLAR"},
	} {
		got, err := ParseMoney(c.typed, c.currency)
		if got != (Money{}) || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
			t.Errorf("ParseMoney(%q, %q) = %v, %v; want an invalid fault with a hint", c.typed, c.currency, got, err)
		}
	}
}

func TestMoneyWritesAnyAmount(t *testing.T) {
	for _, c := range []struct {
		money Money
		want  string
	}{
		{Money{}, ""},
		{Money{-5, "USD"}, "-0.05 USD"},
		{Money{-28900, "USD"}, "-289.00 USD"},
		{Money{-9223372036854775808, "USD"}, "-92233720368547758.08 USD"},
		{Money{7, "QQQ"}, "7 QQQ"},
	} {
		if got := c.money.String(); got != c.want {
			t.Errorf("%d minor %s = %q, want %q", c.money.Minor, c.money.Currency, got, c.want)
		}
	}
}

func TestMoneyRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		code := rapid.SampledFrom([]string{"USD", "EUR", "JPY", "KWD", "CLF", "MXN", "CAD"}).Draw(t, "currency")
		m := Money{rapid.Int64Range(0, 1e12).Draw(t, "minor"), code}
		back, err := ParseMoney(m.Decimal(), code)
		if err != nil || back != m {
			t.Fatalf("%v reads back as %v, %v", m, back, err)
		}
	})
}

// The oracle is the rational number that the text stands for.
func FuzzParseMoney(f *testing.F) {
	for _, s := range []string{"289.00", "289.005", "0", "1e3", "-1", "1/3", "1000000000000", "1_000", "00.50"} {
		f.Add(s, "USD")
		f.Add(s, "JPY")
	}
	f.Fuzz(func(t *testing.T, s, code string) {
		m, err := ParseMoney(s, code)
		plain := strings.Trim(s, "0123456789.") == "" && s != ""
		digits, unknown := Currency(code)
		if err != nil {
			whole := strings.Trim(s, "0123456789") == "" && len(s) <= 12 && s != ""
			if !fault.Is(err, fault.Invalid) || whole && unknown == nil {
				t.Fatalf("ParseMoney(%q, %q) refuses: %v", s, code, err)
			}
			return
		}
		want, ok := new(big.Rat).SetString(s)
		one := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil))
		if !ok || !plain || new(big.Rat).SetInt64(m.Minor).Cmp(want.Mul(want, one)) != 0 {
			t.Fatalf("ParseMoney(%q, %q) = %d minor units, want %s", s, code, m.Minor, want)
		}
		if back, err := ParseMoney(m.Decimal(), code); err != nil || back != m || m.String() != m.Decimal()+" "+code {
			t.Fatalf("%v reads back as %v, %v", m, back, err)
		}
	})
}
