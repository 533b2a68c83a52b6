package model

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// Numbers are drawn in the order of the counter, from 1; those that the police
// register refuses (all letters, all zeros) are stepped over
// (identity-labels-evidence 1.5).
func TestNumbersAreDrawnInOrder(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		first := g.tool(t)
		issued, err := g.IssueNumbers(ctx, g.boss, 40)
		if err != nil {
			t.Fatal(err)
		}
		last := g.tool(t)
		var want []string
		for n := int64(1); len(want) < 42; n++ {
			number, err := numbers.FromCounter(n)
			if err != nil {
				t.Fatal(err)
			}
			if !number.Skipped() {
				want = append(want, number.String())
			}
		}
		got := []string{first}
		for _, n := range issued {
			got = append(got, n.String())
		}
		if got = append(got, last); strings.Join(got, " ") != strings.Join(want, " ") {
			t.Errorf("drawn %v\nwant  %v", got, want)
		}
	})
}

// With the counter before the first run of numbers of only letters, the next
// drawn is the one after the run.
func TestNumbersOfOnlyLettersAreSkipped(t *testing.T) {
	number := func(n int64) numbers.Number {
		number, err := numbers.FromCounter(n)
		if err != nil {
			t.Fatal(err)
		}
		return number
	}
	at := int64(1)
	for !number(at + 1).Skipped() {
		at++
	}
	before := number(at)
	for at++; number(at).Skipped(); {
		at++
	}
	after := number(at)
	onBoth(t, func(t *testing.T, g *garage) {
		g.damaged = true // a number that no act issued
		if _, err := g.raw(t).Exec("INSERT INTO numbers (id, rev, state) VALUES ('" + string(before) + "', 1, 'issued')"); err != nil {
			t.Fatal(err)
		}
		if got := g.tool(t); got != after.String() {
			t.Errorf("after %s comes %s, want %s", before, got, after)
		}
	})
}

// Labels first: issued, then claimed once; a number that was never issued, or
// that a tool has, or that is none, is refused.
func TestClaimingANumber(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		issued, err := g.IssueNumbers(ctx, g.boss, 2)
		if err != nil {
			t.Fatal(err)
		}
		claim := func(n string) error {
			_, err := g.Register(ctx, g.boss, register.New{Number: n, Change: register.Change{Kind: ptr("jack")}})
			return err
		}
		n := issued[0].String()
		_, err = g.Tool(ctx, g.boss, n)
		wantFault(t, err, fault.NotFound, "issued; no tool has it yet")
		if err := claim(strings.ToLower(n)); err != nil {
			t.Fatal(err)
		}
		v, err := g.Tool(ctx, g.boss, n)
		if err != nil || v.Tool.Number != issued[0] {
			t.Errorf("%v, %v", v.Tool.Number, err)
		}
		wantFault(t, claim(n), fault.Conflict, "belongs to a tool already", "number", n)
		wantPointers(t, claim("00E-KM5"), "#/number")
		wantPointers(t, claim("00E-KM6"), "#/number") // a wrong check character
		wantPointers(t, claim("B/00EKM5"), "#/number")
	})
}

func TestIssueNumbersRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for _, n := range []int{0, -1, MaxIssue + 1} {
			_, err := g.IssueNumbers(ctx, g.boss, n)
			wantPointers(t, err, "#/count")
		}
		_, err := g.IssueNumbers(ctx, By{Actor: Actor{Role: people.Viewer, Via: people.ViaToken}}, 1)
		wantFault(t, err, fault.Forbidden, "may not")
	})
}

// Nobody gets a number twice, however many draw at once.
func TestNumbersDrawnAtOnceAreDifferent(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		var all sync.WaitGroup
		drawn := make(chan string, 100)
		for i := range 12 {
			all.Go(func() {
				if i%3 == 0 {
					list, err := g.IssueNumbers(ctx, g.boss, 3)
					if err != nil {
						t.Error(err)
					}
					for _, n := range list {
						drawn <- n.String()
					}
					return
				}
				done, err := g.Register(ctx, g.boss, register.New{Change: register.Change{Kind: ptr("jack")}})
				if err != nil {
					t.Error(err)
				}
				drawn <- done.Number.String()
			})
		}
		all.Wait()
		close(drawn)
		seen := map[string]bool{}
		for n := range drawn {
			if seen[n] {
				t.Errorf("%s was drawn twice", n)
			}
			seen[n] = true
		}
		if len(seen) != 20 {
			t.Errorf("%d numbers, want 20", len(seen))
		}
	})
}

// A tool answers to its number however it is typed or scanned, also when it is
// gone; what is typed wrong is never another tool.
func TestANumberResolves(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		bare := strings.ReplaceAll(n, "-", "")
		g.damaged = true
		if _, err := g.raw(t).Exec(fmt.Sprintf("UPDATE tools SET gone = 1, gone_why = 'sold' WHERE number = '%s'", bare)); err != nil {
			t.Fatal(err)
		}
		for _, text := range []string{n, bare, strings.ToLower(n), " " + n + " ", strings.ReplaceAll(n, "0", "O"), "T/" + bare, "t/" + bare, "HTTPS://SHOP.EXAMPLE/T/" + bare} {
			if v, err := g.Tool(ctx, g.boss, text); err != nil || v.Tool.Number.String() != n || v.Tool.GoneWhy != "sold" {
				t.Errorf("%q: %v, %v", text, v.Tool.Number, err)
			}
		}
		for text, kind := range map[string]fault.Kind{"00E-KM5": fault.NotFound, "": fault.Invalid, "00E": fault.Invalid, "B/1234567X": fault.Invalid,
			n + "0": fault.Invalid, "T/" + strings.ReplaceAll(bare, "0", "O"): fault.Invalid, "JOB:1042": fault.Invalid, "\x00": fault.Invalid} {
			if _, err := g.Tool(ctx, g.boss, text); !fault.Is(err, kind) {
				t.Errorf("%q: %v, want %s", text, err, kind)
			}
		}
		_, err := g.Take(ctx, g.boss, n, Take{To: "Tech A"})
		wantFault(t, err, fault.Conflict, "gone: sold", "since", "*")
	})
}
