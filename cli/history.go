package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type historyOptions struct {
	number string
	most   int // 0: all
}

func (p *program) historyCommand() *cli.Command {
	return &cli.Command{
		Name: "history", Usage: "show every line of the ledger about a tool, oldest first",
		Description: `pawl history 00E-KM5
pawl history 00E-KM5 --json`,
		ArgsUsage: "NUMBER",
		Flags:     []cli.Flag{limit()},
		Action:    action(p, parseHistory, runHistory),
	}
}

func parseHistory(c *cli.Context) (o historyOptions, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.number = numbers[0]
	o.most, err = wholeOf(c, "limit")
	return o, err
}

func runHistory(ctx context.Context, s *session, o historyOptions) error {
	lines, err := gather(o.most, func(each func(wire.Line) error) error { return s.client.HistoryAll(ctx, o.number, each) })
	if err != nil {
		return err
	}
	return list(ctx, s, wire.History{History: lines}, []string{"LINE", "AT", "WHO", "DID", "ON", "WHAT IT SAYS AFTERWARDS"}, lines, func(l wire.Line) []string {
		return []string{strconv.FormatInt(l.Seq, 10), s.when(l.At), l.Actor, l.Verb, l.Noun, s.afterwards(l.After)}
	})
}

// quiet are members of a record that say nothing to a person at the bench.
var quiet = []string{"tool", "created", "sha256", "bytes", "width", "height", "media_type", "maker_key", "serial_key", "received_at", "entered"}

// afterwards says in words what a record held after a change.
func (s *session) afterwards(record map[string]any) string {
	var parts []string
	for _, name := range slices.Sorted(maps.Keys(record)) {
		if !slices.Contains(quiet, name) {
			parts = append(parts, strings.ReplaceAll(name, "_", " ")+" "+s.member(record, name))
		}
	}
	return strings.Join(parts, ", ")
}

// amounts are the members of a record that are minor units, with where their currency stands.
var amounts = map[string]string{"price": "currency", "tax": "currency", "owed": "currency", "amount": "currency", "deposit": "deposit_currency"}

// member writes a value of a record as it is written elsewhere: an amount in its currency,
// a moment in the shop's zone; what has parts as it came.
func (s *session) member(record map[string]any, name string) string {
	switch v := record[name].(type) {
	case float64:
		if code, ok := record[amounts[name]].(string); ok {
			return money(&wire.Money{Minor: int64(v), Currency: code})
		}
	case string:
		at, err := time.Parse(time.RFC3339, v)
		if zone := s.inZone(); err == nil && zone != nil {
			return at.In(zone).Format(shownTime)
		}
	case []any, map[string]any:
		raw, _ := json.Marshal(v) // it came from JSON
		return string(raw)
	}
	return fmt.Sprint(record[name])
}
