package cli

import (
	"testing"
	"time"
)

// TestAfterwards: people read amounts with their currency and moments in the shop's zone; a
// pipe gets moments as they are kept.
func TestAfterwards(t *testing.T) {
	record := map[string]any{"price": 28900.0, "tax": 2312.0, "owed": 10000.0, "currency": "USD", "deposit": 5000.0, "deposit_currency": "EUR", "rev": 2.0, "since": "2026-11-30T08:13:56.395635Z",
		"body": map[string]any{"target": "108 N·m"}, "pieces": []any{"case"}, "sha256": "ab", "on_job": "1042"}
	zone := time.FixedZone("CST", -6*60*60)
	for _, c := range []struct {
		to   printer
		want string
	}{
		{printer{terminal: true, zone: func() *time.Location { return zone }},
			`body {"target":"108 N·m"}, currency USD, deposit 50.00 EUR, deposit currency EUR, on job 1042, owed 100.00 USD, pieces ["case"], price 289.00 USD, rev 2, since 2026-11-30 02:13 CST, tax 23.12 USD`},
		{printer{}, `body {"target":"108 N·m"}, currency USD, deposit 50.00 EUR, deposit currency EUR, on job 1042, owed 100.00 USD, pieces ["case"], price 289.00 USD, rev 2, since 2026-11-30T08:13:56.395635Z, tax 23.12 USD`},
	} {
		if got := (&session{printer: c.to}).afterwards(record); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}
