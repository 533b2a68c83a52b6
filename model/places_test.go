package model

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"strings"
	"testing"
	"time"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

func at(place string) func(*register.New) { return func(in *register.New) { in.Place = &place } }

// A move is one line for the place and none for what is in it: what is found by the
// place follows, and so do the label, the counts and the tool's own page.
func TestMovingADrawerMovesItsTools(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for _, path := range []string{"Bay 2", "Bay 1/Cart/Drawer 3"} {
			if _, err := g.AddPlace(ctx, g.boss, path); err != nil {
				t.Fatal(err)
			}
		}
		var numbers []string
		for range 5 {
			numbers = append(numbers, g.tool(t, at("Drawer 3")))
		}
		if _, err := g.Take(ctx, g.techA, numbers[1], Take{}); err != nil {
			t.Fatal(err)
		}
		before := g.lines(t)
		moved, err := g.MovePlace(ctx, g.boss, "Bay 1/Cart", "Bay 2")
		if err != nil || moved.Path != "Bay 2/Cart" {
			t.Fatal(moved, err)
		}
		if after := g.lines(t); after != before+1 {
			t.Errorf("%d lines, want 1", after-before)
		}
		rows, _, err := g.Find(ctx, g.boss, FindQuery{Place: "Bay 2"})
		if err != nil || len(rows) != 5 || rows[0].Place != "Bay 2/Cart/Drawer 3" {
			t.Errorf("%v %v", rows, err)
		}
		v, err := g.Tool(ctx, g.boss, numbers[1])
		if err != nil || v.Place != "Bay 2/Cart/Drawer 3" || v.Custody.Words() != "out to Tech A" {
			t.Errorf("%q, %q, %v", v.Place, v.Custody.Words(), err)
		}
		shown, err := g.Place(ctx, g.boss, "P/"+v.PlaceCode)
		if err != nil || shown.Path != v.Place || shown.PlaceCounts != (PlaceCounts{Belong: 5, InPlace: 4, Out: 1}) {
			t.Errorf("%+v, %v", shown, err)
		}
		tree, err := g.PlaceTree(ctx, g.boss)
		var said []string
		for _, p := range tree {
			said = append(said, fmt.Sprintf("%s %d %d", p.Path, p.Belong, p.Out))
		}
		if want := "Bay 1 0 0; Bay 2 5 1; Bay 2/Cart 5 1; Bay 2/Cart/Drawer 3 5 1"; err != nil || strings.Join(said, "; ") != want {
			t.Errorf("%s, %v, want %s", strings.Join(said, "; "), err, want)
		}
	})
}

// What is refused changes nothing.
func TestPlacesRefuse(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for _, path := range []string{"Bay 2/Cart", "a/b/c/d/e/f/g/h/i/j/k/l"} {
			if _, err := g.AddPlace(ctx, g.boss, path); err != nil {
				t.Fatal(err)
			}
		}
		g.tool(t, at("Bay 2"))
		before := g.lines(t)
		for _, c := range []struct {
			name string
			do   func() (PlaceView, error)
			kind fault.Kind
			says string
		}{
			{"under itself", func() (PlaceView, error) { return g.MovePlace(ctx, g.boss, "Bay 1", "Bay 1") }, fault.Conflict, "cannot go into itself"},
			{"under what is in it", func() (PlaceView, error) { return g.MovePlace(ctx, g.boss, "Bay 1", "Bay 1/Cart") }, fault.Conflict, "cannot go into itself"},
			{"beside one of its name", func() (PlaceView, error) { return g.MovePlace(ctx, g.boss, "Bay 1/Cart", "Bay 2") }, fault.Conflict, `"Bay 2/Cart" already`},
			{"to where it is", func() (PlaceView, error) { return g.MovePlace(ctx, g.boss, "Bay 1/Cart", "Bay 1") }, fault.Conflict, "in Bay 1 already"},
			{"to the top where it is", func() (PlaceView, error) { return g.MovePlace(ctx, g.boss, "Bay 1", " ") }, fault.Conflict, "at the top already"},
			{"to nowhere", func() (PlaceView, error) { return g.MovePlace(ctx, g.boss, "Bay 1", "Bay 9") }, fault.Invalid, "Bay 9"},
			{"too deep", func() (PlaceView, error) { return g.MovePlace(ctx, g.boss, "Bay 1", "a/b/c/d/e/f/g/h/i/j/k") }, fault.Invalid, "13 levels deep"},
			{"a name that is taken", func() (PlaceView, error) { return g.RenamePlace(ctx, g.boss, "Bay 2", " bay  1") }, fault.Conflict, `"Bay 1" already`},
			{"no name", func() (PlaceView, error) { return g.RenamePlace(ctx, g.boss, "Bay 2", "") }, fault.Invalid, "empty"},
			{"a path", func() (PlaceView, error) { return g.RenamePlace(ctx, g.boss, "Bay 2", "x/y") }, fault.Invalid, "a path and no name"},
			{"its own name", func() (PlaceView, error) { return g.RenamePlace(ctx, g.boss, "Bay 2", "Bay 2") }, fault.Conflict, "already"},
			{"closing what holds a tool", func() (PlaceView, error) { return g.ClosePlace(ctx, g.boss, "Bay 2") }, fault.Conflict, "1 tools belong there"},
			{"closing what holds a place", func() (PlaceView, error) { return g.ClosePlace(ctx, g.boss, "Bay 1") }, fault.Conflict, "Cart is in it"},
			{"giving to nobody here", func() (PlaceView, error) { return g.GivePlace(ctx, g.boss, "Bay 1", "Nobody") }, fault.Invalid, "nobody here"},
			{"giving to everybody again", func() (PlaceView, error) { return g.GivePlace(ctx, g.boss, "Bay 1", "") }, fault.Conflict, "so already"},
			{"a technician", func() (PlaceView, error) { return g.MovePlace(ctx, g.techA, "Bay 1", "Bay 2") }, fault.Forbidden, "Tech A may not"},
			{"a photo that nobody sent", func() (PlaceView, error) {
				return g.PhotographPlace(ctx, g.boss, "Bay 1", register.Attach{SHA256: strings.Repeat("0", 64)})
			}, fault.NotFound, "no upload"},
		} {
			if _, err := c.do(); fault.Of(err) == nil || fault.Of(err).Kind != c.kind || !strings.Contains(fault.Of(err).Error(), c.says) {
				t.Errorf("%s: %v, want %s that says %q", c.name, err, c.kind, c.says)
			}
		}
		if after := g.lines(t); after != before {
			t.Errorf("%d lines were left", after-before)
		}
		if v, err := g.RenamePlace(ctx, g.boss, "Bay 2", "BAY 2"); err != nil || v.Path != "BAY 2" {
			t.Errorf("its own name in capitals: %v, %v", v, err)
		}
	})
}

// A closed place is found by nothing; its name is free, its code is not.
func TestAClosedPlace(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		was, err := g.ClosePlace(ctx, g.boss, "Bay 1/Cart")
		if err != nil || was.Withdrawn == 0 {
			t.Fatal(was, err)
		}
		_, err = g.PlaceOfCode(ctx, g.boss, was.Code)
		wantFault(t, err, fault.NotFound, "was closed", "since", "*")
		for _, by := range []string{"Bay 1/Cart", "Cart", was.ID, "P/" + was.Code} {
			_, err := g.Place(ctx, g.boss, by)
			wantFault(t, err, fault.NotFound, "")
		}
		again, err := g.AddPlace(ctx, g.boss, "Bay 1/Cart")
		if err != nil || again.Code == was.Code || again.ID == was.ID {
			t.Fatal(again, err)
		}
		all, err := g.Places(ctx, g.boss)
		if err != nil || len(all) != 2 {
			t.Errorf("%v, %v", all, err)
		}
	})
}

// Of a place that is closed while tools are put into it, either the closing is refused
// or the tools are: none is left in a closed place.
func TestClosingAgainstRegistering(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for round := range pawlSize(3, 6, 40) {
			path := fmt.Sprint("Box ", round)
			box, err := g.AddPlace(ctx, g.boss, path)
			if err != nil {
				t.Fatal(err)
			}
			errs := make([]error, 5)
			together(len(errs), func(i int) {
				if i == 0 {
					_, errs[i] = g.ClosePlace(ctx, g.boss, box.ID)
					return
				}
				_, errs[i] = g.Register(ctx, g.boss, register.New{Change: register.Change{Kind: ptr("jack"), Place: &path}})
			})
			for i, err := range errs {
				if closed := errs[0] == nil; i > 0 && closed == (err == nil) {
					t.Errorf("closed: %v, and a tool was put into it: %v", errs[0], err)
				}
			}
		}
	})
}

// drawerPhoto is a small photo, a JPEG of one gray.
func drawerPhoto(t *testing.T, gray uint8) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 64, 48))
	for i := range m.Pix {
		m.Pix[i] = color.Gray{Y: gray}.Y
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Everybody in the shop sees the photo of a full drawer, a board its view, a visitor
// nothing. It is no unsorted photo, and not a tool's.
func TestWhoSeesADrawer(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		sha := g.upload(t, g.techA, drawerPhoto(t, 90))
		if _, err := g.PhotographPlace(ctx, g.techA, "Cart", register.Attach{SHA256: sha, Name: "drawer.jpg"}); err != nil {
			t.Fatal(err)
		}
		board, visitor := By{Actor: Actor{Role: people.ShopDevice, Via: people.ViaDevice}}, By{Actor: Actor{Role: people.Viewer, Via: people.ViaDevice}}
		for _, c := range []struct {
			name           string
			by             By
			view, original bool
		}{{"a manager", g.manager, true, true}, {"another technician", g.techB, true, true}, {"a board", board, true, false}, {"a visitor", visitor, false, false}} {
			_, viewed := g.View(ctx, c.by, sha, "small")
			f, _, opened := g.OpenOriginal(ctx, c.by, sha)
			if opened == nil {
				f.Close()
			}
			if (viewed == nil) != c.view || (opened == nil) != c.original {
				t.Errorf("%s: view %v, original %v", c.name, viewed, opened)
			}
		}
		if all, _, err := g.Unsorted(ctx, g.boss, 0, ""); err != nil || len(all) != 0 {
			t.Errorf("unsorted: %v, %v", all, err)
		}
		_, err := g.PhotographPlace(ctx, g.techB, "Cart", register.Attach{SHA256: sha})
		wantFault(t, err, fault.Conflict, "already")
		if _, err := g.GivePlace(ctx, g.boss, "Cart", "Tech A"); err != nil {
			t.Fatal(err)
		}
		_, err = g.PhotographPlace(ctx, g.techB, "Cart", register.Attach{SHA256: g.upload(t, g.techB, drawerPhoto(t, 91))})
		wantFault(t, err, fault.Forbidden, "Tech B may not")
		shown, err := g.Place(ctx, g.techB, "Cart")
		if err != nil || len(shown.Photos) != 1 || shown.Whose != "Tech A" || shown.Photographs {
			t.Errorf("%+v, %v", shown, err)
		}
	})
}

// The same register at the same moment draws the same sheets, on both papers.
func TestDrawerSheetsAreTheSame(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t, at("Cart"), func(in *register.New) { in.Pieces = &register.Pieces{{Name: "10 mm socket", Count: 1}} })
	if _, err := g.Wrong(ctx, g.techA, n, Wrong{What: "dropped"}); err != nil {
		t.Fatal(err)
	}
	if _, err := g.PhotographPlace(ctx, g.boss, "Cart", register.Attach{SHA256: g.upload(t, g.boss, drawerPhoto(t, 90))}); err != nil {
		t.Fatal(err)
	}
	draw := func(place string, below bool) []byte {
		var b bytes.Buffer
		if err := g.DrawerSheetPDF(ctx, g.techA, place, below, false, &b); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	if one := draw("Cart", false); !bytes.Equal(one, draw("Cart", false)) || !bytes.Contains(one, []byte("/DCTDecode")) {
		t.Error("two drawings differ, or hold no photo")
	}
	if !bytes.Equal(draw("", true), draw("Bay 1", true)) || bytes.Equal(draw("Bay 1", true), draw("Bay 1", false)) {
		t.Error("the whole tree is not the one place at its top with what is in it")
	}
	wantFault(t, g.DrawerSheetPDF(ctx, g.techA, "", false, false, &bytes.Buffer{}), fault.Invalid, "empty")
}

// Each list gives what it is of, the longest first, page by page, and Today counts it.
func TestListsOfWhatToLookAfter(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		gone := g.hire(t, "Tech G", "technician")
		var n []string
		for i := range 9 {
			place := "Bay 1"
			if i%2 == 0 {
				place = "Cart"
			}
			n = append(n, g.tool(t, at(place)))
		}
		take := func(by By, i int, due string) {
			t.Helper()
			g.clock.advance(time.Minute)
			if _, err := g.Take(ctx, by, n[i], Take{Due: due, Job: "1042"}); err != nil {
				t.Fatal(err)
			}
		}
		take(g.techA, 0, "2026-11-02")
		take(g.techB, 1, "2026-11-01")
		take(g.techA, 2, "")
		take(gone, 3, "")
		if _, err := g.Away(ctx, g.boss, n[4], Away{To: "Harbor lab", For: "calibration", Due: "2026-11-03"}); err != nil {
			t.Fatal(err)
		}
		take(g.techA, 5, "2027-01-01")
		if _, err := g.Leave(ctx, g.boss, gone.Person, Leave{Settled: true}); err != nil {
			t.Fatal(err)
		}
		for _, i := range []int{6, 0, 7, 8} {
			g.clock.advance(time.Minute)
			what := "dropped"
			if i == 8 {
				what = "label gone"
			}
			if _, err := g.Wrong(ctx, g.techA, n[i], Wrong{What: what}); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := g.Wrong(ctx, g.techA, n[6], Wrong{What: "doubtful"}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.Gone(ctx, g.boss, n[7], Gone{Why: "scrapped"}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(20 * 24 * time.Hour)
		take(g.techB, 8, "")
		for _, c := range []struct {
			q    OutQuery
			want string
		}{
			{OutQuery{Which: "overdue"}, "1 0 4"},
			{OutQuery{Which: "overdue", Person: "Tech B"}, "1"},
			{OutQuery{Which: "overdue", Place: "Cart"}, "0 4"},
			{OutQuery{Which: "long out"}, "0 1 2 3 5"},
			{OutQuery{Which: "Long Out", Person: "tech a", Place: "Bay 1"}, "0 2 5"},
			{OutQuery{Which: "left"}, "3"},
			{OutQuery{Which: "left", Person: "Tech G"}, "3"},
			{OutQuery{Which: "do not use"}, "6 0"},
			{OutQuery{Which: "do not use", Person: "Tech A"}, "0"},
		} {
			for _, limit := range []int{0, 1, 2} {
				q, got := c.q, []string(nil)
				for q.Limit = limit; ; {
					rows, next, err := g.OutList(ctx, g.techB, q)
					if err != nil {
						t.Fatalf("%+v: %v", q, err)
					}
					for _, r := range rows {
						got = append(got, fmt.Sprint(index(n, r.Number.String())))
					}
					if q.Cursor = next; next == "" {
						break
					}
				}
				if found := strings.Join(got, " "); found != c.want {
					t.Errorf("%+v: found %s, want %s", q, found, c.want)
				}
			}
		}
		rows, _, err := g.OutList(ctx, g.boss, OutQuery{Which: "overdue"})
		if err != nil || rows[0].Days != 17 || rows[0].Job != "1042" || rows[0].Person != "Tech B" {
			t.Errorf("%+v, %v", rows, err)
		}
		rows, _, err = g.OutList(ctx, g.boss, OutQuery{Which: "do not use"})
		if err != nil || rows[0].DoNotUse != "dropped, doubtful" || rows[0].Days != 20 {
			t.Errorf("%+v, %v", rows, err)
		}
		v, err := g.Today(ctx, g.techB)
		counts := []string{}
		for _, c := range v.Lists {
			counts = append(counts, fmt.Sprintf("%s %d", c.Which, c.N))
		}
		if want := "overdue 3, long out 5, left 1, do not use 2"; err != nil || strings.Join(counts, ", ") != want {
			t.Errorf("Today counts %q, %v, want %q", counts, err, want)
		}
		for _, q := range []OutQuery{{Which: "late"}, {Which: "overdue", Place: "Bay 9"}, {Which: "overdue", Person: "Tech G"}, {Which: "left", Person: "Tech A"}} {
			if _, _, err := g.OutList(ctx, g.boss, q); !fault.Is(err, fault.Invalid) {
				t.Errorf("%+v: %v", q, err)
			}
		}
		_, _, err = g.OutList(ctx, g.boss, OutQuery{Which: "left", Cursor: "x"})
		wantFault(t, err, fault.Malformed, "cursor")
	})
}

// Whatever is wrong with a tool, it goes to be repaired or calibrated, and back; to
// nobody else.
func TestWhereADoNotUseToolMayGo(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		if _, err := g.Take(ctx, g.techA, n, Take{}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.Wrong(ctx, g.techA, n, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		_, err := g.Handover(ctx, g.boss, n, Handover{To: "Tech B"})
		wantFault(t, err, fault.Refused, "pawl return", "do_not_use", "dropped", "holder", "Tech A")
		if _, err := g.Return(ctx, g.techA, n, Return{}); err != nil {
			t.Fatal(err)
		}
		_, err = g.Take(ctx, g.techA, n, Take{})
		wantFault(t, err, fault.Refused, "DO NOT USE")
		for why, may := range map[custody.Purpose]bool{custody.ForRepair: true, custody.ForCalibration: true, custody.ForLent: false} {
			_, err := g.Away(ctx, g.boss, n, Away{To: "Harbor", For: string(why)})
			if may != (err == nil) {
				t.Errorf("away for %s: %v", why, err)
			}
			if !may {
				wantFault(t, err, fault.Refused, "DO NOT USE")
				continue
			}
			if _, err := g.Back(ctx, g.boss, n, Back{}); err != nil {
				t.Fatal(err)
			}
		}
	})
}
