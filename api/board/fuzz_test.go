package board_test

import (
	"strings"
	"testing"
	"time"

	"pawl/api/board"
	"pawl/model/numbers"
)

// Whatever a scanner sends, an act is only ever on the tool whose whole number,
// check character and all, stands in the line.
func FuzzScan(f *testing.F) {
	for _, seed := range []string{tool, "https://ours.example/t/00ekm5?x#y", "HTTPS://FAR.EXAMPLE/T/00001Y", "00E-KM5", "00EKM5", badgeA, "JOB:1042", "1042",
		"CARD:TAKE", "CARD:UNDO", "undo", "T-00EKM5", "T!ààEK?(", tool + other, "T/00E", strings.Repeat("9", 4096), "\x00\xff\x02T/00EKM5\x03"} {
		f.Add(seed, seed, int64(2500), true)
	}
	f.Fuzz(func(t *testing.T, first, second string, pause int64, open bool) {
		b := &board.Board{Hosts: []string{"ours.example"}}
		if open {
			b.Open(badgeA, "Tech A", time.Hour)
		}
		at := time.Hour
		for _, line := range []string{first, second, first} {
			at += time.Duration(max(0, pause%100_000)) * time.Millisecond
			o := b.Scan(line, at)
			if o.Said.Key != "" {
				o.Said.English()
			}
			if o.Kind != board.Take && o.Kind != board.Return {
				continue
			}
			n, err := numbers.ParseExact(o.Number)
			if err != nil || !strings.Contains(strings.ReplaceAll(strings.ToUpper(line), "-", ""), string(n)) {
				t.Fatalf("%q acts on %q (%v)", line, o.Number, err)
			}
		}
	})
}
