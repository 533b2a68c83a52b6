package browser

import (
	"strings"
	"testing"

	"pawl/model"
)

// doubted is a page of a torque wrench of the demo that was found out at a laboratory,
// or of one that nothing found out. LINE stands for its first open line.
func doubted(name, path string, found bool) sight {
	return sight{name: name, who: "Tech A", path: func(t *testing.T, y *yard) string {
		t.Helper()
		rows, _, err := y.shop.Find(t.Context(), computer, model.FindQuery{Text: "torque wrench", Limit: 50})
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			v, err := y.shop.Recheck(t.Context(), computer, row.Number.String())
			if err != nil {
				t.Fatal(err)
			}
			if out := v.Window != nil && strings.Contains(v.Window.Why, "found it failing"); out != found || !found && v.Window != nil {
				continue
			}
			line := ""
			for _, l := range v.Lines {
				if l.Open && line == "" {
					line = l.ID
				}
			}
			return strings.NewReplacer("NUMBER", string(row.Number), "LINE", line).Replace(path)
		}
		t.Fatalf("the demo has no torque wrench for %q", name)
		return ""
	}}
}
