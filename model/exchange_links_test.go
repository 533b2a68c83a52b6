package model

import (
	"fmt"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/register"
)

// tool registers one through the front door and gives its number.
func (s *sheetShop) tool(in register.New) string {
	s.Helper()
	v, err := s.Register(ctx, s.by, in)
	if err != nil {
		s.Fatal(err)
	}
	return v.Number.String()
}

func (s *sheetShop) must(_ any, err error) {
	s.Helper()
	if err != nil {
		s.Fatal(err)
	}
}

func text(s string) *string { return &s }

// What people do to tools goes round whole: tools that came with others, one
// that was exchanged, tools that are gone, a fresh label, what is wrong, what is
// owed in one currency and left as a deposit in another.
func TestWhatPeopleDidGoesRound(t *testing.T) {
	from := openSheetShop(t)
	from.person("Tech A")
	months := int64(24)
	pieces := register.Pieces{{Name: "10 mm socket", Count: 1}, {Name: "extension; long", Count: 2}}
	main := from.tool(register.New{Change: register.Change{Kind: text("impact wrench"), Maker: text("Brindle"), Serial: text("=A1"), SerialAgain: nil,
		Owner: text("Tech A"), Bought: text("2026-01-02"), Price: text("289.00"), Tax: text("20.23"), Seller: text("Counter sale"), Terms: text("on account"),
		Owed: text("100.00"), OwedTo: text("Counter sale"), OwedOn: text("2026-02-01"), WarrantyMonths: &months, WarrantyFrom: text("2026-01-05"), Pieces: &pieces},
		SerialAgain: "=A1", With: []register.With{{Kind: "battery", Serial: "'00", Price: "49.00"}, {Kind: "case"}}})
	loaner := from.tool(register.New{Change: register.Change{Kind: text("puller"), OwnerOutside: text("Tidewater Parts"), Deposit: text("50.00"), DueBack: text("2027-01-01")}})
	swapped := from.tool(register.New{Change: register.Change{Kind: text("ratchet"), Maker: text("Brindle"), Serial: text("007")}, SerialAgain: "007"})
	sold := from.tool(register.New{Change: register.Change{Kind: text("jack")}})
	issued, err := from.IssueNumbers(ctx, from.by, 1)
	from.must(issued, err)
	from.must(from.JoinNumber(ctx, from.by, main, Join{Number: issued[0].String()}))
	from.must(from.Swap(ctx, from.by, swapped, Swap{Serial: "1E5", SerialAgain: "1E5"}))
	from.must(from.Gone(ctx, from.by, sold, Gone{Why: "sold", On: "2026-10-01", Note: "=to a neighbor"}))
	from.must(from.Wrong(ctx, from.by, loaner, Wrong{What: "dropped", Note: "off the cart\n\nface down"}))
	exact := from.exported(ExportOptions{Format: "csv", Raw: true})
	for _, part := range []string{",sold,2026-10-01,=to a neighbor", ",exchanged,", main + ",impact wrench", "dropped: off the cart"} {
		if !strings.Contains(exact, part) {
			t.Errorf("%q is not in\n%s", part, exact)
		}
	}
	for _, o := range []ExportOptions{{Format: "csv", Raw: true}, {Format: "csv"}, {Format: "xlsx"}, {Format: "json"}} {
		into := openSheetShop(t)
		into.person("Tech A")
		if r := into.imported(from.exported(o), SheetOptions{Format: o.Format}); r.Added != 7 {
			t.Errorf("%+v: %+v", o, r)
		}
		if again := into.exported(ExportOptions{Format: "csv", Raw: true}); again != exact {
			t.Errorf("%+v: out again it is\n%s\nwas\n%s", o, again, exact)
		}
		v, err := into.Tool(ctx, into.by, loaner)
		if err != nil || len(v.Wrongs) != 1 || v.Wrongs[0].What != "dropped" {
			t.Errorf("the dropped tool is for use: %+v, %v", v.Wrongs, err)
		}
		if v, err := into.Tool(ctx, into.by, sold); err != nil || v.Tool.Gone == 0 {
			t.Errorf("the sold tool is here: %+v, %v", v.Tool, err)
		}
		size := into.size()
		if r := into.imported(from.exported(o), SheetOptions{Format: o.Format}); r.Unchanged != 7 || into.size() != size {
			t.Errorf("%+v: again %+v", o, r)
		}
	}
}

// Links name tools of the file, wherever they stand in it, or of the shop.
func TestLinksOfImportedTools(t *testing.T) {
	for name, c := range map[string]struct {
		file string
		o    SheetOptions
		want string // number and what it came with, or the errors
	}{
		"one that follows":        {"kind,number,came_with\nbattery,000-03T,000-04P\nwrench,000-04P,\n", SheetOptions{}, "000-03T with 000-04P"},
		"one of the shop":         {"kind,number,came_with\nbattery,000-03T,000-01Y\n", SheetOptions{}, "000-03T with 000-01Y"},
		"nobody":                  {"kind,number,came_with\nbattery,000-03T,000-09C\n", SheetOptions{}, "2 came_with link"},
		"itself":                  {"kind,number,came_with\nbattery,000-03T,000-03T\n", SheetOptions{}, "2 came_with link"},
		"no number":               {"kind,number,came_with\nbattery,000-03T,x\n", SheetOptions{}, "2 came_with number"},
		"left out with its like":  {"kind,number,came_with\nbattery,000-03T,000-04P\nwrench,000-04P,000-09C\njack,000-05M,\n", SheetOptions{Partial: true}, "2 came_with link, 3 came_with link"},
		"the place of one here":   {"kind,number,exchanged_from\nwrench,000-03T,000-01Y\n", SheetOptions{}, "2 exchanged_from link"},
		"two in one place":        {"kind,number,exchanged_from\nwrench,000-03T,\nwrench,000-04P,000-03T\nwrench,000-05M,000-03T\n", SheetOptions{}, "4 exchanged_from link"},
		"one that is not so here": {"number,came_with,kind\n000-01Y,000-04P,\n000-04P,,wrench\n", SheetOptions{OnDuplicate: "update"}, "2 came_with link"},
		"gone, of one here":       {"number,gone\n000-01Y,sold\n", SheetOptions{OnDuplicate: "update"}, "2 gone gone"},
		"gone without a why":      {"kind,gone_on\nwrench,2026-01-01\n", SheetOptions{}, "2  value"},
		"gone the shop's own":     {"kind,gone\nwrench,handed to its owner\n", SheetOptions{}, "2 gone value"},
		"wrong, of one here":      {"number,wrong\n000-01Y,dropped\n", SheetOptions{OnDuplicate: "update"}, "2 wrong value"},
	} {
		t.Run(name, func(t *testing.T) {
			s := openSheetShop(t)
			s.imported("kind,number\nwrench,000-01Y\n", SheetOptions{})
			r, err := s.Import(ctx, s.by, strings.NewReader(c.file), withFormat(c.o))
			got := troubles(r.Errors)
			if err != nil {
				got = troubles(fault.Of(err).Fields)
			}
			if n, bad := numbers.ParseNumber("000-03T"); bad != nil {
				t.Fatal(bad)
			} else if v, err := s.Tool(ctx, s.by, n.String()); err == nil && got == "" {
				got = fmt.Sprint(v.Tool.Number, " with ", v.CameWith)
			}
			if got != c.want {
				t.Errorf("%s, want %s", got, c.want)
			}
		})
	}
}

// A tool that was stolen goes along as such, although nobody says it of a tool that is here
// but by a loss.
func TestStolenToolGoesRound(t *testing.T) {
	from, into := openSheetShop(t), openSheetShop(t)
	from.imported("kind,number,notes\nwrench,000-01Y,x\n", SheetOptions{})
	in := StartLoss{Kind: "theft", Found: "2026-01-01T00:00:00Z", Where: "van", Tools: []string{"000-01Y"}}
	v, err := from.StartLoss(ctx, from.by, in)
	if err == nil {
		_, err = from.ConfirmLoss(ctx, from.by, v.ID, LossTools{})
	}
	if err != nil {
		t.Fatal(err)
	}
	o := ExportOptions{Format: "csv", Raw: true}
	file := from.exported(o)
	into.imported(file, SheetOptions{Format: o.Format})
	if out := into.exported(o); out != file || !strings.Contains(out, "stolen") {
		t.Errorf("%s\nwas\n%s", out, file)
	}
}
