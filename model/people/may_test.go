package people

import "testing"

// The table of object rules, row by row (DETAILS, "Access").
func TestMay(t *testing.T) {
	computer := Actor{Role: Manager, Via: ViaLocal}
	boss := Actor{Person: "H-BOSS", Role: Manager, Via: ViaDevice}
	a := Actor{Person: "H-A", Role: Technician, Via: ViaToken}
	script := Actor{Role: Technician, Via: ViaToken}
	viewer := Actor{Person: "H-V", Role: Viewer, Via: ViaDevice}
	shops, own, others, shared := Object{}, Object{Owner: "H-A"}, Object{Owner: "H-B"}, Object{Owner: "H-B", OwnerShares: true}
	for _, c := range []struct {
		what  string
		actor Actor
		right Right
		on    Object
		want  bool
	}{
		{"who holds the folder sees a person's price", computer, SeeMoney, others, true},
		{"a manager sees the shop's price", boss, SeeMoney, shops, true},
		{"a manager does not see a person's price", boss, SeeMoney, others, false},
		{"a manager sees what its owner shares", boss, SeeMoney, shared, true},
		{"an owner sees their own price", a, SeeMoney, own, true},
		{"a technician does not see the shop's price", a, SeeMoney, shops, false},
		{"nor what another shares with managers", a, SeeMoney, shared, false},
		{"a technician edits the shop's tools", a, EditTool, shops, true},
		{"and their own", a, EditTool, own, true},
		{"and not another's", a, EditTool, others, false},
		{"a technician takes for themselves", a, TakeTool, Object{Holder: "H-A"}, true},
		{"and not for another", a, TakeTool, Object{Holder: "H-B"}, false},
		{"a script of the shop names any holder", script, TakeTool, Object{Holder: "H-B"}, true},
		{"only a manager clears", a, ClearTool, own, false},
		{"a manager clears", boss, ClearTool, others, true},
		{"only a manager closes a job over what is open", a, Override, Object{}, false},
		{"a manager does", boss, Override, Object{}, true},
		{"a technician does not set up the shop", a, ShopActs, Object{}, false},
		{"a viewer takes nothing", viewer, TakeTool, Object{Holder: "H-V"}, false},
		{"a viewer edits nothing", viewer, EditTool, shops, false},
		{"a manager sees anybody's badge", boss, SeeBadge, others, true},
		{"a technician settles work in doubt, whosever tool it was", a, Recheck, others, true},
		{"a viewer settles nothing", viewer, Recheck, shops, false},
		{"a technician sees their own badge", a, SeeBadge, own, true},
		{"and not another's", a, SeeBadge, others, false},
		{"a script of the shop is nobody, and has none", script, SeeBadge, shops, false},
		{"a board shows no badge", Actor{Person: "H-A", Role: ShopDevice, Via: ViaDevice}, SeeBadge, own, false},
		{"a technician sees any photo of a tool", a, SeePhoto, Object{}, true},
		{"a board shows the whole tool and its drawer", Actor{Role: ShopDevice, Via: ViaDevice}, SeePhoto, Object{PlainSight: true}, true},
		{"and no serial close up, whoever shows a badge", Actor{Person: "H-A", Role: ShopDevice, Via: ViaDevice}, SeePhoto, own, false},
		{"a viewer sees no photo of a tool", viewer, SeePhoto, Object{PlainSight: true}, false},
		{"a manager starts a count", boss, RunCount, shops, true},
		{"a technician does not", a, RunCount, shops, false},
		{"a technician counts", a, CountTool, shops, true},
		{"whoever shows a badge at a board counts", Actor{Person: "H-A", Role: ShopDevice, Via: ViaDevice}, CountTool, shops, true},
		{"and nobody does without one", Actor{Role: ShopDevice, Via: ViaDevice}, CountTool, shops, false},
		{"a viewer counts nothing", viewer, CountTool, shops, false},
		{"who has a tool gives their word", a, GiveWord, Object{Holder: "H-A"}, true},
		{"and not another's", a, GiveWord, Object{Holder: "H-B"}, false},
		{"a manager passes on what they were told", boss, GiveWord, Object{Holder: "H-B"}, true},
		{"at a board whoever has it gives their word", Actor{Person: "H-A", Role: ShopDevice, Via: ViaDevice}, GiveWord, Object{Holder: "H-A"}, true},
		{"a script of the shop gives nobody's", script, GiveWord, Object{}, false},
		{"a manager reports a loss", boss, RunLoss, shops, true},
		{"a technician reports that of their own tool", a, RunLoss, own, true},
		{"and not of another's", a, RunLoss, others, false},
		{"nor of the shop's", a, RunLoss, shops, false},
		{"a script of the shop's technician reports none", script, RunLoss, shops, false},
		{"a viewer reports none", viewer, RunLoss, shops, false},
		{"a right that is in no row is nobody's", boss, Right("something new"), shops, false},
	} {
		if got := May(c.actor, c.right, c.on); got != c.want {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
}

// A line names ids and ways in, never a name.
func TestRecorded(t *testing.T) {
	if got := (Actor{Person: "H-A", Name: "Tech A", Via: ViaToken, Token: "K-1"}).Recorded(); got != "H-A via token K-1" {
		t.Errorf("%q", got)
	}
	if got := (Actor{Via: ViaLocal}).Recorded(); got != "shop via local" {
		t.Errorf("%q", got)
	}
	for _, a := range []Actor{{Person: "H-A", Via: ViaToken, Token: "K-1"}, {Person: "H-A", Via: ViaDevice, Device: "D-1"}, {Via: ViaDevice, Device: "D-1"}, {Person: "H-A", Via: ViaLocal}, {Via: ViaLocal}} {
		if person, via, id := OfRecorded(a.Recorded()); person != a.Person || via != a.Via || id != a.Token+a.Device {
			t.Errorf("%q reads as %q, %q, %q", a.Recorded(), person, via, id)
		}
	}
}
