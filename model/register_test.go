package model

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

// The first errand, whole: everything that is known of a tool goes in as one
// act and comes out again.
func TestRegisterKeepsWhatWasEntered(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		photo, receipt := g.upload(t, g.boss, picture(1)), g.upload(t, g.boss, picture(2))
		done, err := g.Register(ctx, g.boss, register.New{SerialAgain: "kd-408 b217",
			Change: register.Change{Kind: ptr("Impact  Wrench"), Maker: ptr("Brindle"), Model: ptr("BW-2"), Serial: ptr("KD408B217"),
				Owner: ptr("tech a"), Place: ptr("Cart"), Usage: ptr("daily"), Notes: ptr("red grip"), Pieces: &register.Pieces{{Name: "case", Count: 1}},
				Bought: ptr("2026-01-15"), Price: ptr("289.00"), Tax: ptr("23.84"), Seller: ptr("Corner tools"), Terms: ptr("on account"),
				Owed: ptr("100"), OwedTo: ptr("Corner tools"), OwedOn: ptr("2026-10-01"), WarrantyMonths: ptr(int64(24)),
				Marking: &register.MarkingEntry{Method: "printed", Where: "under the grip"}},
			Evidence: []register.Attach{{Kind: "plate", SHA256: photo, Name: "plate.png"}, {Kind: "receipt", SHA256: receipt}}})
		if err != nil {
			t.Fatal(err)
		}
		if done.Number.Counter() != 1 {
			t.Errorf("number %s, want the first of the counter", done.Number)
		}
		v, err := g.Tool(ctx, g.boss, done.Number.String())
		if err != nil {
			t.Fatal(err)
		}
		got := fmt.Sprint(v.Tool.Kind, "|", v.Tool.Maker, "|", v.Tool.Serial, "|", v.Tool.SerialKey, "|", v.Owner, "|", v.Place, "|", v.Tool.Usage, "|", v.Tool.Notes, "|",
			v.Tool.Pieces, "|", v.Tool.Bought, "|", *v.Tool.Price, "|", *v.Tool.Tax, "|", v.Tool.Currency, "|", v.Tool.Terms, "|", *v.Tool.Owed, "|", v.Tool.WarrantyThrough())
		want := "impact wrench|Brindle|KD408B217|KD408B217|Tech A|Bay 1/Cart|daily|red grip|[{case 1}]|2026-01-15|28900|2384|USD|on account|10000|2028-01-15"
		if got != want {
			t.Errorf("kept   %s\nwanted %s", got, want)
		}
		if len(v.Markings) != 1 || v.Markings[0].Method != "printed" || v.Markings[0].Protection != "" || v.Markings[0].Spot != "under the grip" {
			t.Errorf("markings %+v", v.Markings)
		}
		if len(v.Evidence) != 2 || len(v.Numbers) != 1 || v.Custody.State != "in place" || v.Custody.Since != v.Tool.Created {
			t.Errorf("%d papers, numbers %v, custody %+v", len(v.Evidence), v.Numbers, v.Custody)
		}
		if joined := strings.Join(v.Advice, " "); !strings.Contains(joined, "two months") || !strings.Contains(joined, "No photo of the whole tool") || strings.Contains(joined, "No proof of purchase") {
			t.Errorf("advice %q", v.Advice)
		}
	})
}

// A serial is captured twice, by sight and from the photo: it must be the same.
func TestASerialIsEnteredTwice(t *testing.T) {
	cases := []struct {
		name          string
		serial, again string
		pointers      string // empty: taken
	}{
		{"twice the same", "KD408B217", "KD408B217", ""},
		{"the same but for case, space and hyphen", "KD408B218", "kd-408 b218", ""},
		{"once only", "KD408B219", "", "#/serial_again"},
		{"a difference", "KD408B219", "KD408B21G", "#/serial_again"},
		{"look-alikes are a difference to settle", "KD408B0", "KD408BO", "#/serial_again"},
		{"none at all is taken", "", "", ""},
	}
	onBoth(t, func(t *testing.T, g *garage) {
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				_, err := g.Register(ctx, g.boss, register.New{SerialAgain: c.again, Change: register.Change{Kind: ptr("ratchet"), Serial: &c.serial}})
				if c.pointers == "" {
					if err != nil {
						t.Error(err)
					}
					return
				}
				wantPointers(t, err, c.pointers)
			})
		}
	})
}

// What cannot be registered, and which values are at fault: all of them at once.
func TestRegisterRefuses(t *testing.T) {
	cases := []struct {
		name     string
		by       func(*garage) By
		in       register.New
		kind     fault.Kind
		pointers string // when Invalid
	}{
		{name: "no kind", in: register.New{}, pointers: "#/kind"},
		{name: "many things", pointers: "#/kind #/usage #/price #/terms #/bought #/owner #/place",
			in: register.New{Change: register.Change{Kind: ptr(" "), Usage: ptr("often"), Price: ptr("1.234"), Terms: ptr("gift"), Bought: ptr("2026-10-31"), Owner: ptr("Nobody"), Place: ptr("Moon")}}},
		{name: "control characters", in: register.New{Change: register.Change{Kind: ptr("jack"), Notes: ptr("a\x00b"), Maker: ptr("x\x1b[1m")}}, pointers: "#/maker #/notes"},
		{name: "text that is not UTF-8", in: register.New{Change: register.Change{Kind: ptr("jack"), Model: ptr("ja\xffck")}}, pointers: "#/model"},
		{name: "a marking made otherwise", in: register.New{Change: register.Change{Kind: ptr("jack"), Marking: &register.MarkingEntry{Method: "painted", Protection: "wax"}}}, pointers: "#/marking/method #/marking/protection"},
		{name: "a photo that nobody sent", in: register.New{Change: register.Change{Kind: ptr("jack")}, Evidence: []register.Attach{{Kind: "plate", SHA256: strings.Repeat("ab", 32)}}}, pointers: "#/evidence"},
		{name: "another's tool by a technician", by: func(g *garage) By { return g.techA }, in: register.New{Change: register.Change{Kind: ptr("jack"), Owner: ptr("Tech B")}}, kind: fault.Forbidden},
		{name: "anything by a viewer", by: func(*garage) By { return By{Actor: Actor{Role: people.Viewer, Via: people.ViaToken}} }, in: register.New{Change: register.Change{Kind: ptr("jack")}}, kind: fault.Forbidden},
	}
	onBoth(t, func(t *testing.T, g *garage) {
		before := g.lines(t)
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				by := g.boss
				if c.by != nil {
					by = c.by(g)
				}
				_, err := g.Register(ctx, by, c.in)
				if c.kind != "" {
					wantFault(t, err, c.kind, "may not")
					return
				}
				wantPointers(t, err, c.pointers)
			})
		}
		if after := g.lines(t); after != before {
			t.Errorf("%d lines were left behind", after-before)
		}
	})
}

// The second tool of a maker with the same serial is refused and the first is
// named; another maker may have the same serial, and a lot code is nobody's.
func TestADuplicateNamesTheFirst(t *testing.T) {
	brindle := func(serial string) func(*register.New) {
		return func(in *register.New) { in.Maker, in.Serial, in.SerialAgain = ptr("Brindle"), &serial, serial }
	}
	onBoth(t, func(t *testing.T, g *garage) {
		first := g.tool(t, brindle("KD408B217"))
		try := func(edit ...func(*register.New)) error {
			in := register.New{Change: register.Change{Kind: ptr("ratchet")}}
			for _, e := range edit {
				e(&in)
			}
			_, err := g.Register(ctx, g.boss, in)
			return err
		}
		wantFault(t, try(brindle("KD-408-B217")), fault.Conflict, first, "number", first, "state", "registered")
		wantFault(t, try(func(in *register.New) {
			in.Maker, in.Serial, in.SerialAgain = ptr("BRINDLE "), ptr("kd408b217"), "kd408b217"
		}), fault.Conflict, first)
		if err := try(func(in *register.New) {
			in.Maker, in.Serial, in.SerialAgain = ptr("Kestrel"), ptr("KD408B217"), "KD408B217"
		}); err != nil {
			t.Errorf("another maker: %v", err)
		}
		for range 2 {
			if err := try(func(in *register.New) { in.Maker, in.Lot = ptr("Brindle"), ptr("KD408B217") }); err != nil {
				t.Errorf("a lot code: %v", err)
			}
		}
		second := g.tool(t, brindle("KD408B218"))
		_, err := g.ChangeTool(ctx, g.boss, second, 1, register.Change{Serial: ptr("KD408B217"), SerialAgain: ptr("KD408B217")})
		wantFault(t, err, fault.Conflict, first, "number", first)
	})
}

func TestChangeTool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, owned(g.techA))
		cases := []struct {
			name string
			by   By
			rev  int64
			c    register.Change
			kind fault.Kind
			says string
		}{
			{"no revision", g.boss, 0, register.Change{Notes: ptr("x")}, fault.Precondition, "If-Match"},
			{"one that was never", g.boss, 9, register.Change{Notes: ptr("x")}, fault.Stale, "revision 9, now 1"},
			{"by another technician", g.techB, 1, register.Change{Notes: ptr("x")}, fault.Forbidden, "may not"},
			{"its price by a manager who may not see it", g.manager, 1, register.Change{Price: ptr("1.00")}, fault.Forbidden, "price"},
			{"given to another, by its owner, who could not edit it then", g.techA, 1, register.Change{Owner: ptr("Tech B")}, fault.Forbidden, "may not"},
			{"given to another, by a manager", g.manager, 1, register.Change{Owner: ptr("shop")}, fault.Forbidden, "only Tech A can pass this tool on"},
			{"a serial read once", g.techA, 1, register.Change{Serial: ptr("KD1")}, fault.Invalid, "entered once"},
			{"a bad value", g.techA, 1, register.Change{Usage: ptr("often")}, fault.Invalid, "often"},
			{"no such tool", g.boss, 1, register.Change{Notes: ptr("x")}, fault.NotFound, "there is no tool"},
		}
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				number := n
				if c.kind == fault.NotFound {
					number = "00E-KM5"
				}
				_, err := g.ChangeTool(ctx, c.by, number, c.rev, c.c)
				wantFault(t, err, c.kind, c.says)
			})
		}
		before := g.lines(t)
		if _, err := g.ChangeTool(ctx, g.techA, n, 1, register.Change{Price: ptr("300"), Place: ptr("Bay 1"), Seller: ptr("")}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.techA, n, 2, register.Change{Price: ptr("300.00")}); err != nil {
			t.Fatal(err) // the same again changes nothing
		}
		v, err := g.Tool(ctx, g.techA, n)
		if err != nil || v.Tool.Rev != 2 || *v.Tool.Price != 30000 || v.Tool.Seller != "" || v.Place != "Bay 1" || g.lines(t) != before+1 {
			t.Errorf("%+v in %s, %v, %d lines more; want one change", v.Tool, v.Place, err, g.lines(t)-before)
		}
	})
}

// How a tool is marked can be said later: another protection is a change of the
// same marking, another method is a marking of its own.
func TestChangeMarking(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		steps := []struct {
			entry register.MarkingEntry
			want  string
		}{
			{register.MarkingEntry{Method: "printed", Where: "under the grip"}, "printed  under the grip 1"},
			{register.MarkingEntry{Protection: "clear tape"}, "printed clear tape under the grip 2"},
			{register.MarkingEntry{Method: "printed", Where: "left side"}, "printed clear tape left side 3"},
			{register.MarkingEntry{Method: "engraved"}, "printed clear tape left side 4, engraved   1"}, // the first has ended,
		}
		for _, s := range steps {
			if _, err := g.ChangeTool(ctx, g.boss, n, 1, register.Change{Marking: &s.entry}); err != nil {
				t.Fatalf("%+v: %v", s.entry, err)
			}
			v, err := g.Tool(ctx, g.boss, n)
			var got []string
			for _, m := range v.Markings {
				got = append(got, fmt.Sprintf("%s %s %s %d", m.Method, m.Protection, m.Spot, m.Rev))
			}
			if err != nil || strings.Join(got, ", ") != s.want {
				t.Errorf("%+v: %q, %v; want %s", s.entry, got, err, s.want)
			}
			g.clock.advance(time.Second)
		}
		_, err := g.ChangeTool(ctx, g.boss, n, 1, register.Change{Marking: &register.MarkingEntry{Protection: "wax"}})
		wantPointers(t, err, "#/marking/protection")
	})
}
