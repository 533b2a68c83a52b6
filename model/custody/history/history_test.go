package history

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func op(client int, act, who string, call, end int64, told Told) Operation {
	return Operation{client, call, end, Asked{"00E-KM5", act, who}, told}
}

var done = Told{Done: true}

// The judge can say no: to a history in which two hold one tool, one in which the
// wrong holder is told, and one whose order in time is broken.
func TestJudge(t *testing.T) {
	cases := []struct {
		name string
		all  []Operation
		fits bool
	}{
		{"a take and a refusal", []Operation{op(0, "take", "A", 1, 4, done), op(1, "take", "B", 2, 3, Told{Holder: "A"})}, true},
		{"handed over, and back", []Operation{op(0, "take", "A", 1, 2, done), op(1, "handover", "B", 3, 4, done), op(0, "return", "", 5, 6, done)}, true},
		{"two takes", []Operation{op(0, "take", "A", 1, 4, done), op(1, "take", "B", 2, 3, done)}, false},
		{"the wrong holder told", []Operation{op(0, "take", "A", 1, 4, done), op(1, "take", "B", 2, 3, Told{Holder: "C"})}, false},
		{"refused before anybody took it", []Operation{op(1, "take", "B", 1, 2, Told{Holder: "A"}), op(0, "take", "A", 3, 4, done)}, false},
		{"a take that was lost", []Operation{op(0, "take", "A", 1, 2, done), op(1, "take", "B", 3, 4, done)}, false},
		{"a return that was done twice", []Operation{op(0, "take", "A", 1, 2, done), op(0, "return", "", 3, 4, done), op(1, "return", "", 5, 6, done)}, false},
	}
	for _, c := range cases {
		if j := Judge(c.all, time.Minute); j.Fits != c.fits || j.Broken() == c.fits {
			t.Errorf("%s: %s, want it to fit: %v", c.name, j.Said, c.fits)
		}
	}
}

// What is kept of a history that failed fails again when it is read.
func TestAFailingHistoryIsKept(t *testing.T) {
	folder, err := Judge([]Operation{op(0, "take", "A", 1, 4, done), op(1, "take", "B", 2, 3, done)}, time.Minute).Keep()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	text, err := os.ReadFile(filepath.Join(folder, "history.json"))
	if err != nil {
		t.Fatal(err)
	}
	var again []Operation
	if err := json.Unmarshal(text, &again); err != nil {
		t.Fatal(err)
	}
	if len(again) != 2 || !Judge(again, time.Minute).Broken() {
		t.Errorf("what was kept says otherwise: %+v", again)
	}
	if page, err := os.Stat(filepath.Join(folder, "history.html")); err != nil || page.Size() == 0 {
		t.Errorf("no page of it: %v", err)
	}
}
