package page_test

import (
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// A scan of a place's label lands on its page: what belongs there and who has it, with
// what a manager may change; a technician sees the same without that.
func TestThePageOfAPlace(t *testing.T) {
	b := openBay(t)
	by := model.By{Actor: computer}
	b.boss.open("/places").says("There is no place yet").press("Add it", "path=Bay 1/Drawer 3").with(200).says("Drawer 3", "no tool belongs here")
	place, err := b.shop.Place(t.Context(), by, "Drawer 3")
	if err != nil {
		t.Fatal(err)
	}
	path := "/p/" + place.Code
	tool := b.tool("impact wrench")
	number := strings.TrimPrefix(tool, "/t/")
	to := "Bay 1/Drawer 3"
	v, err := b.shop.Tool(t.Context(), by, number)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.shop.Take(t.Context(), by, number, model.Take{To: "Tech A", Job: "1042"}); err != nil {
		t.Fatal(err)
	}
	b.belongs(v, to)

	b.techA.open("/scan?code=P/"+place.Code).with(200).says("Drawer 3", "1 belong here: 0 in place, 1 out, 0 away", "Tech A, job 1042", "No photo of the full drawer").without("Rename it", "Move it")
	b.boss.open(tool).says("Bay 1/Drawer 3")
	b.boss.open(path).press("Move it with all that is in it", "to=Bay 1/Drawer 3").with(409).says("cannot go into itself")
	b.boss.open(path).press("Move it with all that is in it", "to=").with(200).says("It is Drawer 3 now")
	b.boss.open(path).press("Rename it", "name=Bay 1").with(409).says(`there is a place "Bay 1" already`)
	b.boss.open(path).press("Rename it", "name=Red box").with(200).says("It is Red box now")
	b.boss.open(path).press("Keep it", "person=Tech A").with(200).says("of Tech A")
	spanish := *b.boss
	spanish.lang = "es"
	spanish.open(path).press("Rename it", "name=Bay 1").with(409).says(`ya hay un lugar "Bay 1"`)
	b.boss.open("/p/000000000").with(404).says("no place here has the code")
	bay, err := b.shop.Place(t.Context(), by, "Bay 1")
	if err != nil {
		t.Fatal(err)
	}
	b.boss.open("/p/" + bay.Code).press("Close it for good").with(200).says("Bay 1 is closed").without("1 belong here: 1")
	b.boss.open("/p/" + bay.Code).with(404).says("was closed")
}

// belongs gives a tool its place.
func (b *bay) belongs(v model.ToolView, place string) {
	b.Helper()
	if _, err := b.shop.ChangeTool(b.Context(), model.By{Actor: computer}, string(v.Tool.Number), v.Tool.Rev, placed(place)); err != nil {
		b.Fatal(err)
	}
}

// The page of what to look after has its four lists, and Today leads there.
func TestThePageOfWhatToLookAfter(t *testing.T) {
	b := openBay(t)
	b.boss.open("/out").says("Not back in time", "Out for more than 14 days", "Out to people who left", "Do not use", "None.")
	b.techA.open("/today").without("To look after")
	by := model.By{Actor: computer}
	number := strings.TrimPrefix(b.tool("impact wrench"), "/t/")
	if _, err := b.shop.Take(t.Context(), by, number, model.Take{To: "Tech A", Happened: "2026-10-01T08:00", Due: "2026-10-02"}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.shop.Wrong(t.Context(), by, number, model.Wrong{What: "dropped", Note: "off the lift"}); err != nil {
		t.Fatal(err)
	}
	b.techA.open("/out").says("impact wrench", "days over", "dropped, since", "off the lift")
	b.techA.open("/today").says("To look after", "Out long", "tools: 1")
	b.techA.open("/out?list=do+not+use").says("off the lift", "All four lists").without("Not back in time")
	b.techA.open("/out?list=nonsense").with(422)
	b.boss.open(b.boss.open("/settings").with(200).press("Save", "long_out_days=366").with(200).link("Today")).says("To look after").without("Out long")
}

func placed(place string) register.Change { return register.Change{Place: &place} }
