package store

import (
	"reflect"
	"slices"
	"strings"
	"sync"

	"gorm.io/gorm/schema"

	"pawl/model/calibration"
	"pawl/model/claims"
	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/inspections"
	"pawl/model/jobs"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
	"pawl/model/worth"
)

// table describes one recorded table: the noun of its lines, and which tools a
// row is about.
type table struct {
	noun  string
	row   any
	tools func(row any) string

	parse  sync.Once // fills what follows
	schema *schema.Schema
	insert string
	update string

	names []string // columns of an image, in bytewise order
	shown []int    // the field of each
}

// tables lists every recorded table, in the order that verify checks them. Their row
// types are not parsed yet: most commands need few of them.
var tables = []*table{
	{noun: "settings", row: settings.Settings{}},
	{noun: "person", row: people.Person{}},
	{noun: "place", row: register.Place{}},
	{noun: "job", row: jobs.Job{}},
	{noun: "tool", row: register.Tool{}, tools: func(r any) string { return r.(*register.Tool).ID }},
	{noun: "number", row: register.NumberRow{}, tools: func(r any) string { return r.(*register.NumberRow).Tool }},
	{noun: "label", row: register.LabelIssue{}, tools: func(r any) string { return r.(*register.LabelIssue).Tool }},
	{noun: "marking", row: markings.Marking{}, tools: func(r any) string { return r.(*markings.Marking).Tool }},
	{noun: "term", row: markings.Term{}, tools: func(r any) string { return r.(*markings.Term).Tool }},
	{noun: "check", row: markings.Check{}, tools: func(r any) string { return r.(*markings.Check).Tool }},
	{noun: "loan", row: custody.Loan{}, tools: func(r any) string { return r.(*custody.Loan).Tool }},
	{noun: "wrong", row: custody.Wrong{}, tools: func(r any) string { return r.(*custody.Wrong).Tool }},
	{noun: "requirement", row: calibration.RequirementRow{}, tools: func(r any) string { return r.(*calibration.RequirementRow).Tool }},
	{noun: "calibration", row: calibration.ResultRow{}, tools: func(r any) string { return r.(*calibration.ResultRow).Tool }},
	{noun: "use", row: calibration.UseRow{}, tools: func(r any) string { return r.(*calibration.UseRow).Tool }},
	{noun: "recheck", row: calibration.SettledRow{}, tools: func(r any) string { return r.(*calibration.SettledRow).Tool }},
	{noun: "finding", row: jobs.Finding{}, tools: func(r any) string { return r.(*jobs.Finding).Tool }},
	{noun: "held", row: jobs.Held{}},
	{noun: "look", row: jobs.Look{}, tools: func(r any) string { return r.(*jobs.Look).Tool }},
	{noun: "plan", row: inspections.Plan{}, tools: func(r any) string { return r.(*inspections.Plan).Tool }},
	{noun: "inspection", row: inspections.Inspection{}, tools: func(r any) string { return r.(*inspections.Inspection).Tool }},
	{noun: "draw", row: counts.DrawRow{}},
	{noun: "count", row: counts.Count{}},
	{noun: "frame", row: counts.FrameRow{}},
	{noun: "sighting", row: counts.Sighting{}, tools: func(r any) string { return r.(*counts.Sighting).Tool }},
	{noun: "difference", row: counts.Difference{}, tools: func(r any) string { return r.(*counts.Difference).Tool }},
	{noun: "outcome", row: counts.OutcomeRow{}},
	{noun: "quote", row: worth.Quote{}, tools: func(r any) string { return r.(*worth.Quote).Tool }},
	{noun: "policy", row: worth.Policy{}},
	{noun: "loss", row: claims.Loss{}},
	{noun: "loss line", row: claims.LossLine{}, tools: func(r any) string { return r.(*claims.LossLine).Tool }},
	{noun: "claim", row: claims.Claim{}, tools: func(r any) string { return r.(*claims.Claim).Tool }},
	{noun: "fact", row: claims.Fact{}},
	{noun: "claim line", row: claims.ClaimLine{}, tools: func(r any) string { return r.(*claims.ClaimLine).Tool }},
	{noun: "packet", row: claims.Packet{}, tools: func(r any) string { return r.(*claims.Packet).Tool }},
	{noun: "life", row: worth.LifeRow{}},
	{noun: "condition", row: worth.Condition{}, tools: func(r any) string { return r.(*worth.Condition).Tool }},
	{noun: "index", row: worth.IndexPoint{}},
	{noun: "evidence", row: evidence.Record{}, tools: func(r any) string { return r.(*evidence.Record).Tool }},
	{noun: "token", row: people.Token{}},
	{noun: "device", row: people.Device{}},
	{noun: "feed", row: people.Feed{}},
	{noun: "clock", row: ClockRow{}},
	{noun: "import", row: register.ImportRow{}},
	{noun: "mapping", row: register.MappingRow{}},
	{noun: ledger.RollNoun, row: ledger.Roll{}},
}

// recorded gives all of them, parsed.
func recorded() []*table {
	for _, t := range tables {
		t.parsed()
	}
	return tables
}

// derived tables are rebuilt by rebuildDerived; operational ones hold what is
// neither recorded nor rebuilt. lines is the ledger itself.
var (
	derived     = []string{"hashes", "line_tools", "words", "serial_keys", "due", "leaves"}
	operational = []string{"store", "checkpoints", "replays", "secrets", "uploads", "removals", "enrolments", "sessions", "throttles", "feed_secrets", "stamps"}
)

var byType = sync.OnceValue(func() map[reflect.Type]*table {
	m := map[reflect.Type]*table{}
	for _, t := range tables {
		m[reflect.TypeOf(t.row)] = t
	}
	return m
})

// parsed reads the row type once, writes its two statements and says which columns its
// images have.
func (t *table) parsed() *table {
	t.parse.Do(func() {
		s, err := schema.Parse(t.row, &sync.Map{}, schema.NamingStrategy{})
		if err != nil {
			panic("store: " + err.Error()) // a mistake in a row type, which every test of the tables meets
		}
		t.schema = s
		names, marks, sets := "", "", ""
		for i, f := range s.Fields {
			if i > 0 {
				names, marks = names+", ", marks+", "
			}
			names, marks = names+quote(f.DBName), marks+"?"
			if f.DBName != "id" {
				if sets != "" {
					sets += ", "
				}
				sets += quote(f.DBName) + " = ?"
			}
		}
		t.names, t.shown = imageOf(s.Fields)
		t.insert = "INSERT INTO " + quote(s.Table) + " (" + names + ") VALUES (" + marks + ")"
		t.update = "UPDATE " + quote(s.Table) + " SET " + sets + " WHERE id = ? AND rev = ?"
	})
	return t
}

// imageOf gives the columns of an image: all but id and rev.
func imageOf(fields []*schema.Field) (names []string, shown []int) {
	for i, f := range fields {
		if f.DBName != "id" && f.DBName != "rev" {
			shown = append(shown, i)
		}
	}
	slices.SortFunc(shown, func(a, b int) int { return strings.Compare(fields[a].DBName, fields[b].DBName) })
	for _, i := range shown {
		names = append(names, fields[i].DBName)
	}
	return names, shown
}

func quote(name string) string { return `"` + name + `"` }

// tableOf gives the table of a row handed over by pointer.
func tableOf(row any) *table {
	t, ok := byType()[reflect.TypeOf(row).Elem()]
	if !ok {
		panic("store: " + reflect.TypeOf(row).String() + " is not a recorded row; list it in tables.go")
	}
	return t.parsed()
}
