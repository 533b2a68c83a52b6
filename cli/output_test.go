package cli

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"pawl/api/wire"
	"pawl/model/fault"
)

// TestMoney: decimals as ISO 4217 lists them for these currencies.
func TestMoney(t *testing.T) {
	for want, m := range map[string]*wire.Money{
		"":           nil,
		"289.00 USD": {Minor: 28900, Currency: "USD"},
		"0.05 USD":   {Minor: 5, Currency: "USD"},
		"-0.05 USD":  {Minor: -5, Currency: "USD"},
		"1500 JPY":   {Minor: 1500, Currency: "JPY"},
		"1.234 KWD":  {Minor: 1234, Currency: "KWD"},
		"-12.50 EUR": {Minor: -1250, Currency: "EUR"},
	} {
		if got := money(m); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// TestNothingProvenIsNotHolding: a bag of others that is as its lists say holds no more.
func TestNothingProvenIsNotHolding(t *testing.T) {
	for answer, v := range map[string]wire.Verified{
		"everything holds": {OK: true, Root: "ab12"},
		"the files are those of its lists; nothing is proven": {OK: true},
		"DOES NOT HOLD": {},
	} {
		var out bytes.Buffer
		s := &session{printer: printer{out: &out, err: io.Discard}}
		if err := s.sayVerified(v); (err == nil) != v.OK || !strings.HasPrefix(out.String(), "answer\t"+answer+"\n") {
			t.Errorf("%+v says %q, %v; want %q", v, out.String(), err, answer)
		}
	}
}

// TestPeopleAndPipes: a person gets headings and aligned columns, a pipe gets
// rows with tabs; nothing from outside breaks either.
func TestPeopleAndPipes(t *testing.T) {
	rows := [][]string{{"00E-KM5", "impact\twrench", "in place"}, {"00F-LN6", "jack\x1b[31m", ""}}
	for _, c := range []struct {
		terminal bool
		want     string
	}{
		{false, "00E-KM5\timpact wrench\tin place\n00F-LN6\tjack [31m\t\n"},
		{true, "NUMBER   KIND           STATE\n00E-KM5  impact wrench  in place\n00F-LN6  jack [31m\n"},
	} {
		var out bytes.Buffer
		p := printer{out: &out, terminal: c.terminal}
		if err := p.table([]string{"NUMBER", "KIND", "STATE"}, rows); err != nil {
			t.Fatal(err)
		}
		if out.String() != c.want {
			t.Errorf("terminal %v:\n%q\nwant\n%q", c.terminal, out.String(), c.want)
		}
	}
}

func TestRecordLeavesOutWhatIsEmptyForPeopleOnly(t *testing.T) {
	fields := []field{{"number", "00E-KM5"}, {"place", ""}, {"kind", "jack"}}
	for terminal, want := range map[bool]string{
		true:  "number  00E-KM5\nkind    jack\n",
		false: "number\t00E-KM5\nplace\t\nkind\tjack\n",
	} {
		var out bytes.Buffer
		p := printer{out: &out, terminal: terminal}
		if err := p.record(fields); err != nil || out.String() != want {
			t.Errorf("terminal %v: got %q (%v), want %q", terminal, out.String(), err, want)
		}
	}
}

// TestNotes: advice goes beside the answer, and --json and --quiet leave it out.
func TestNotes(t *testing.T) {
	for _, c := range []struct {
		json, quiet bool
		want        string
	}{{false, false, "note: keep it dry\n"}, {true, false, ""}, {false, true, ""}} {
		var out, err bytes.Buffer
		p := printer{out: &out, err: &err, json: c.json, quiet: c.quiet}
		p.note("keep it dry")
		if err.String() != c.want || out.Len() != 0 {
			t.Errorf("%+v: stderr %q, stdout %q", c, err.String(), out.String())
		}
	}
}

// TestWhen: on the shop's clock to people, RFC 3339 to a pipe.
func TestWhen(t *testing.T) {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	chicago := func() *time.Location { return zone }
	var c wire.Custody
	if err := c.Since.UnmarshalJSON([]byte(`"2026-11-25T22:30:00Z"`)); err != nil {
		t.Fatal(err)
	}
	for _, k := range []struct {
		p    printer
		want string
	}{
		{printer{}, "2026-11-25T22:30:00Z"},
		{printer{zone: chicago}, "2026-11-25T22:30:00Z"},
		{printer{terminal: true, zone: chicago}, "2026-11-25 16:30 CST"},
		{printer{terminal: true}, "2026-11-25T22:30:00Z"},
	} {
		if got := k.p.when(c.Since); got != k.want {
			t.Errorf("got %q, want %q", got, k.want)
		}
	}
	if got := (&printer{terminal: true, zone: chicago}).when(c.Due); got != "" {
		t.Errorf("no moment is written as %q", got)
	}
}

// TestObjectIsOneLine, and keeps < and & as they are.
func TestObjectIsOneLine(t *testing.T) {
	var out bytes.Buffer
	p := printer{out: &out}
	if err := p.object(map[string]string{"note": "a<b\n&c"}); err != nil {
		t.Fatal(err)
	}
	if got := out.String(); got != `{"note":"a<b\n&c"}`+"\n" || strings.Count(got, "\n") != 1 {
		t.Errorf("got %q", got)
	}
}

// TestAnswerThatCannotBeWritten is a failure, but never says that nothing was
// changed.
func TestAnswerThatCannotBeWritten(t *testing.T) {
	for name, write := range map[string]func(*printer) error{
		"object": func(p *printer) error { return p.object("x") },
		"row":    func(p *printer) error { return p.changed("x", "x") },
		"table":  func(p *printer) error { p.terminal = true; return p.table([]string{"A"}, [][]string{{"x"}}) },
		"record": func(p *printer) error { p.terminal = true; return p.record([]field{{"a", "x"}}) },
	} {
		full, w := io.Pipe()
		full.CloseWithError(errors.New("no space left"))
		err := write(&printer{out: answers{w}})
		if !fault.Is(err, fault.Internal) || !strings.Contains(err.Error(), "no space left") || strings.Contains(err.Error(), "nothing was changed") {
			t.Errorf("%s: got %v", name, err)
		}
	}
}
