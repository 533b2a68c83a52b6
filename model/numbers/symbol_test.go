package numbers

import (
	"net/url"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

func TestScannersDeliverSymbols(t *testing.T) {
	for _, c := range []struct {
		scanned string
		want    Symbol
	}{
		{"T/00EKM5", Symbol{Tool, "00EKM5"}},
		{"t/00ekm5\r\n", Symbol{Tool, "00EKM5"}},
		{"\x02T/00E-KM5\x03\t", Symbol{Tool, "00EKM5"}},
		{"HTTPS://SHOP.EXAMPLE/T/00EKM5", Symbol{Tool, "00EKM5"}},
		{"https://shop.example/t/00ekm5", Symbol{Tool, "00EKM5"}},
		{"http://192.168.1.20:8080/T/00EKM5/", Symbol{Tool, "00EKM5"}},
		{"https://[fd00::1]:8443/T/00EKM5", Symbol{Tool, "00EKM5"}},
		{"https://other.example/T/00EKM5?utm=x/y#z", Symbol{Tool, "00EKM5"}},
		{"https://other.example/T/00EKM5/#top", Symbol{Tool, "00EKM5"}},
		{"B/7K3M9P4X", Symbol{Badge, "7K3M9P4X"}},
		{"p/bay-2", Symbol{Place, "BAY-2"}},
		{"JOB:1042", Symbol{Job, "1042"}},
		{"job:ro-1042 a", Symbol{Job, "RO-1042 A"}},
		{"CARD:TAKE", Symbol{Card, "TAKE"}}, {"card:undo", Symbol{Card, "UNDO"}},
		{"card:return\n", Symbol{Card, "RETURN"}},
	} {
		got, err := ParseSymbol(c.scanned)
		if err != nil || got != c.want {
			t.Errorf("ParseSymbol(%q) = %v, %v; want %v", c.scanned, got, err, c.want)
		}
		if wantNumber := c.want.Kind == Tool; (got.Number() == "00EKM5") != wantNumber || (got.Number() == "") == wantNumber {
			t.Errorf("%v gives the number %q", got, string(got.Number()))
		}
	}
}

func TestStrayCodesAreNoSymbols(t *testing.T) {
	for _, c := range []struct{ scanned, hint string }{
		{"00EKM5", "could be any barcode"}, {"00e-km5\n", "could be any barcode"},
		{"", "scan a label"}, {"\r\n", "scan a label"}, {"4006381333931", "scan a label"},
		{"T/OOEKM5", "scan a label"}, {"T/00EKM6", "scan a label"}, {"T/", "scan a label"}, {"T/00EKM5/x", "scan a label"},
		{"T/00E\nKM5", "scan a label"}, {"X/00EKM5", "scan a label"}, {"--to=T/00EKM5", "scan a label"},
		{"ftp://shop.example/T/00EKM5", "scan a label"}, {"https:///T/00EKM5", "scan a label"}, {"https://shop.example/x/T/00EKM5", "scan a label"},
		{"https://shop.example/T/OOEKM5", "scan a label"}, {"https://a@shop.example/T/00EKM5", "scan a label"},
		{"https://shop.example/B/7K3M9P4X", "scan a label"}, {"https://shop.example/T/00EKM5\nJOB:1", "scan a label"},
		{"CARD:STEAL", "scan a label"}, {"CARD:", "scan a label"}, {"JOB:", "scan a label"}, {"JOB:--force", "scan a label"}, {"JOB:../x", "scan a label"},
		{"B/", "scan a label"}, {"B/../x", "scan a label"}, {"P/-x", "scan a label"}, {"JOB:\u0131", "scan a label"},
		{strings.Repeat("9", 5000), "scan a label"},
	} {
		got, err := ParseSymbol(c.scanned)
		if got != (Symbol{}) || !fault.Is(err, fault.Invalid) || !strings.Contains(fault.Of(err).Hint, c.hint) {
			t.Errorf("ParseSymbol(%.60q) = %v, %v; want an invalid fault that says %q", c.scanned, got, err, c.hint)
		}
	}
}

// What a scanner set to the US layout makes of our symbols on other keyboards
// (from memory, as interfaces 1.4 has it).
func TestWrongLayoutIsNamedAndNeverGuessed(t *testing.T) {
	for _, scanned := range []string{
		"T-00EKM5", "t-00ekm5", // QWERTZ: / is -
		"T-00001Z",                       // and Y is Z
		"HTTPSÖ--SHOP.EXAMPLE-T-00EKM5",  // and : is Ö
		"T!ààEK?(",                       // AZERTY, digits unshifted
		"HTTPSM!!SHOP:EXQ?PLE!T!ààEK?(",  // and its letters
		"HTTPSÑ--SHOP.EXAMPLE-T-00EKM5",  // QWERTY of Spain
		"httpsñ--shop.example-t-00ekm5 ", // without shift
	} {
		got, err := ParseSymbol(scanned)
		if got != (Symbol{}) || fault.Of(err).Hint != "check the scanner's keyboard layout" {
			t.Errorf("ParseSymbol(%q) = %v, %v; want the hint about the layout", scanned, got, err)
		}
	}
}

func TestEverySymbolScansBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, err := FromCounter(rapid.Int64Range(0, MaxCounter).Draw(t, "counter"))
		if err != nil {
			t.Fatal(err)
		}
		base, err := CheckBase(rapid.SampledFrom([]string{"https://shop.example", "HTTP://192.168.1.20:8080/", "https://a-b.c.example:1"}).Draw(t, "base"))
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range []string{n.Symbol(""), n.Symbol(base)} {
			if strings.Trim(text, qrAlphanumeric) != "" {
				t.Fatalf("%s leaves the alphanumeric mode", text)
			}
			got, err := ParseSymbol(strings.ToLower(text) + "\r\n")
			if err != nil || got.Number() != n {
				t.Fatalf("%s scans as %v, %v", text, got, err)
			}
		}
	})
	if got := Number("00EKM5").Symbol("https://shop.example"); got != "HTTPS://SHOP.EXAMPLE/T/00EKM5" {
		t.Errorf("link = %s", got) // identity-labels-evidence 2.2, first row
	}
}

// The 45 characters of the alphanumeric mode: ISO/IEC 18004, identity-labels-evidence 2.2.
const qrAlphanumeric = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

func TestCheckBase(t *testing.T) {
	for typed, want := range map[string]string{
		"https://shop.example":       "https://shop.example",
		" HTTPS://Shop.Example/ ":    "https://shop.example",
		"http://192.168.1.20:8080":   "http://192.168.1.20:8080",
		"http://toolbox:65535/":      "http://toolbox:65535",
		"https://xn--bcher-kva.test": "https://xn--bcher-kva.test",
	} {
		if got, err := CheckBase(typed); err != nil || got != want {
			t.Errorf("CheckBase(%q) = %q, %v; want %q", typed, got, err, want)
		}
	}
	for _, bad := range []string{"", "shop.example", "ftp://shop.example", "https://", "https:///", "https://:80", "https://shop.example/tools", "https://shop.example//",
		"https://shop.example?x", "https://shop.example/#", "https://u:p@shop.example", "https://shop_1.example", "https://bücher.example", "https://[::1]",
		"https://shop..example", "https://-shop.example", "https://shop-.example", "https://shop.example.", "https://shop.example:0", "https://shop.example:080",
		"https://shop.example:65536", "https://shop.example:", "https://shop.example:80:80", "https://shop example", "https://shop\n.example",
		"https://" + strings.Repeat("a", 64) + ".example", "https://" + strings.Repeat("abc.", 64) + "example", "https://\u212aelvin.example"} {
		if got, err := CheckBase(bad); got != "" || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
			t.Errorf("CheckBase(%q) = %q, %v; want an invalid fault with a hint", bad, got, err)
		}
	}
}

// The oracle for links is net/url.
func FuzzParseSymbol(f *testing.F) {
	for _, s := range []string{"T/00EKM5", "https://shop.example:80/t/00ekm5/?a#b", "B/7K3M9P4X", "JOB:1042", "CARD:TAKE", "00EKM5", "T-00EKM5",
		"HTTPSÖ--SHOP.EXAMPLE-T-00EKM5", "https://[::1]/T/00EKM5", "http://[1]/T/00EKM5", "http://[1.2.3.4]/T/00EKM5", "P/BAY-2\r\n", "JOB:A B"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseSymbol(s)
		if err != nil {
			if got != (Symbol{}) || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
				t.Fatalf("ParseSymbol(%q) = %v, %v", s, got, err)
			}
			return
		}
		prefix := map[string]string{Tool: "T/", Badge: "B/", Place: "P/", Job: "JOB:", Card: "CARD:"}[got.Kind]
		if again, err := ParseSymbol("\x02" + strings.ToLower(prefix+got.Code) + "\r\n"); err != nil || again != got || prefix == "" {
			t.Fatalf("%v of %q reads back as %v, %v", got, s, again, err)
		}
		if strings.Trim(got.Code, qrAlphanumeric) != "" || strings.HasPrefix(got.Code, "-") || strings.HasPrefix(got.Code, ".") {
			t.Fatalf("%q gives a code that cannot be printed: %v", s, got)
		}
		if got.Kind == Tool && !polynomialValid(ours, got.Code) {
			t.Fatalf("%q gives the tool %q, which fails its check", s, got.Code)
		}
		if link, _, _ := strings.Cut(s, "#"); got.Kind == Tool && strings.Contains(strings.ToLower(link), "http") {
			link, _, _ = strings.Cut(strings.TrimFunc(link, func(r rune) bool { return r <= ' ' || r >= 127 }), "?")
			u, err := url.Parse(link)
			if err != nil || u.Host == "" || u.User != nil || strings.ToUpper(strings.ReplaceAll(strings.Trim(u.Path, "/"), "-", "")) != "T/"+got.Code {
				t.Fatalf("%q is %s by its link, but net/url says %v, %v", s, got.Code, u, err)
			}
		}
	})
}

func FuzzCheckBase(f *testing.F) {
	for _, s := range []string{"https://shop.example", "http://192.168.1.20:8080/", "HTTPS://A-B.EXAMPLE", "https://u@x", "https://x:0", "https://\u212a"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		base, err := CheckBase(s)
		if err != nil {
			if base != "" || !fault.Is(err, fault.Invalid) {
				t.Fatalf("CheckBase(%q) = %q, %v", s, base, err)
			}
			return
		}
		u, err := url.Parse(base)
		if err != nil || u.Scheme+"://"+u.Host != base || u.Hostname() == "" {
			t.Fatalf("CheckBase(%q) = %q, which net/url reads as %v, %v", s, base, u, err)
		}
		link := Number("00EKM5").Symbol(base)
		if got, err := ParseSymbol(link); err != nil || got.Number() != "00EKM5" || strings.Trim(link, qrAlphanumeric) != "" {
			t.Fatalf("the link %q scans as %v, %v", link, got, err)
		}
		if again, err := CheckBase(base); err != nil || again != base {
			t.Fatalf("CheckBase(%q) = %q, %v: not settled", base, again, err)
		}
	})
}

// A link is the shop's own only where its host can be read and is the shop's.
func TestForeignHost(t *testing.T) {
	for scanned, want := range map[string]string{
		"T/00EKM5": "", "00E-KM5": "", "HTTPS://TOOLS.EXAMPLE/T/00EKM5": "", " https://Tools.example/t/00EKM5\r": "",
		"HTTPS://OTHER.EXAMPLE/T/00EKM5": "other.example", "https:///T/00EKM5": "https:///T/00EKM5", "HTTPS://TOOLS%ZZ/T/00EKM5": "HTTPS://TOOLS%ZZ/T/00EKM5",
	} {
		if got := ForeignHost(scanned, "tools.example"); got != want {
			t.Errorf("%q is of %q, want %q", scanned, got, want)
		}
	}
}
