package model

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The arrows of the house: who may import whom, within the module. Words in
// capitals stand for the groups below. A folder that is in no row is refused,
// so that a new one is put in its place here first.
var (
	leaves      = []string{"model/fault", "model/units", "model/dates", "model/numbers", "model/serials", "model/ledger", "model/sheets", "model/names", "model/stamp", "model/pattern"}
	proving     = []string{"model/bag", "model/proofs", "model/copies", "model/packets", "model/backups"} // what is handed over, and how it is checked
	aboutThings = []string{"model/register", "model/people", "model/evidence", "model/jobs", "model/settings"}
	reckoned    = []string{"model/calibration/intervals"} // what many results on a tool say
	whatIsLeft  = []string{"model/matching"}              // of a serial
	onTool      = []string{"model/markings", "model/calibration", "model/custody", "model/inspections"}
	onMany      = []string{"model/counts", "model/claims", "model/worth", "model/due"}
	features    = slices.Concat(leaves, aboutThings, whatIsLeft, onTool, reckoned, onMany)

	arrows = []arrow{
		{leaves, []string{"model/fault", "model/pattern"}},
		{aboutThings, leaves},
		{whatIsLeft, []string{"model/fault"}},
		{onTool, slices.Concat(leaves, aboutThings)},
		{reckoned, slices.Concat(leaves, aboutThings, onTool)},
		{onMany, slices.Concat(leaves, aboutThings, onTool)},
		{[]string{"labels", "labels/chart"}, slices.Concat(features, []string{"labels/chart"})},
		{[]string{"model/internal/store"}, features},
		{[]string{"model/bag", "model/proofs", "model/copies"}, slices.Concat(leaves, []string{"model/bag", "model/proofs"})},
		{[]string{"model/backups"}, leaves},
		{[]string{"model/packets"}, slices.Concat(features, []string{"model/bag", "model/proofs"})},
		{[]string{"model/internal/originals"}, leaves},
		{[]string{"model/internal/codes"}, nil},
		{[]string{"model/internal/views"}, slices.Concat(features, []string{"model/internal/codes"})},
		{[]string{"model/needs", "model/internal/s3test", "model/custody/history"}, nil},    // for tests
		{[]string{"model/internal/pgtest", "model/stamp/tsatest"}, []string{"model/needs"}}, // for tests
		{[]string{"model"}, slices.Concat(features, proving, []string{"labels", "labels/chart", "model/internal/store", "model/internal/originals", "model/internal/views", "model/internal/codes"})},
		{[]string{"model/demo"}, slices.Concat(features, []string{"model"})},
		{[]string{"model/internal/bench"}, slices.Concat(features, []string{"model", "model/internal/store", "model/internal/originals", "api", "api/client", "api/wire", "labels"})},
		{[]string{"model/internal/bench/bareshop"}, nil},
		{[]string{"api/wire"}, features},
		{[]string{"api/access"}, features},
		{[]string{"api/openapi"}, nil},
		{[]string{"api/client"}, slices.Concat(features, []string{"api/wire"})},
		{[]string{"api/page/words"}, nil},
		{[]string{"api/board"}, []string{"model/fault", "model/numbers", "model/pattern", "api/page/words"}},
		{[]string{"api/page"}, slices.Concat(features, []string{"model", "labels", "api/wire", "api/access", "api/board", "api/page/words"})},
		{[]string{"api"}, slices.Concat(features, proving, []string{"model", "labels", "api/wire", "api/access", "api/openapi", "api/client", "api/page"})},
		{[]string{"cli"}, []string{"model/fault", "api/client", "api/wire", "api/board", "cli/start"}},
		{[]string{"cli/start"}, nil},
		{[]string{"."}, []string{"cli"}},
	}
	// One file may import more than its folder.
	files = map[string][]string{"cli/local.go": {"api", "api/client", "api/wire", "model", "model/fault", "model/people", "model/demo"}}

	// What comes from outside, and the only folders that may have it.
	outside = []struct {
		path string // a prefix of the import
		only []string
	}{
		{"gorm.io/", []string{"model/internal/store"}},
		{"github.com/jackc/pgx", []string{"model/internal/store", "model/internal/pgtest"}},
		{"github.com/mattn/go-sqlite3", []string{"model/internal/store", "model/internal/bench", "model/internal/bench/bareshop"}},
		{"database/sql", []string{"model/internal/store", "model/internal/pgtest", "model/internal/bench", "model/internal/bench/bareshop"}},
		{"github.com/pressly/goose", []string{"model/internal/store"}},
		{"github.com/prometheus/", []string{"api"}},
		{"github.com/gin-gonic/", []string{"api", "api/page", "model/internal/bench/bareshop"}},
		{"github.com/urfave/cli", []string{"cli"}},
		{"github.com/minio/", []string{"model/internal/originals", "model/internal/s3test"}},
		{"github.com/johannesboyne/", []string{"model/internal/s3test"}},
		{"github.com/digitorus/", []string{"model/stamp"}},
		{"math/rand", nil},
		{"crypto/rand", []string{"model", "model/internal/pgtest", "model/internal/bench", "model/stamp/tsatest", "api", "api/client", "cli"}},
	}
	// database/sql/driver is how a value says what it is in a column.
	innocent = []string{"database/sql/driver"}

	// The clock is handed in: only these files ask the system's. The one of the bench
	// times what the others do.
	clocks = []string{"model/open.go", "model/internal/bench/stopwatch.go"}
)

type arrow struct{ from, to []string }

// source is one file: what it imports, and whether it reads the system's clock.
type source struct {
	path    string // from the module's root
	imports []string
	now     bool
}

// broken names every arrow that a file breaks.
func broken(s source) (out []string) {
	folder := filepath.ToSlash(filepath.Dir(s.path))
	may, listed := []string(nil), false
	for _, a := range arrows {
		if slices.Contains(a.from, folder) {
			may, listed = a.to, true
		}
	}
	if own, more := files[s.path]; more {
		may = own
	}
	if !listed {
		out = append(out, fmt.Sprintf("%s: the folder %s has no place in the house", s.path, folder))
	}
	for _, path := range s.imports {
		if own, ours := strings.CutPrefix(path, "pawl/"); ours && !slices.Contains(may, own) {
			out = append(out, fmt.Sprintf("%s: %s must not import %s", s.path, folder, own))
		}
		for _, o := range outside {
			if strings.HasPrefix(path, o.path) && !slices.Contains(innocent, path) && !slices.Contains(o.only, folder) {
				out = append(out, fmt.Sprintf("%s: %s must not import %s", s.path, folder, path))
			}
		}
	}
	if s.now && (strings.HasPrefix(s.path, "model/") || strings.HasPrefix(s.path, "labels/")) && !slices.Contains(clocks, s.path) {
		out = append(out, fmt.Sprintf("%s: %s must not read the system's clock; it is handed in", s.path, folder))
	}
	return out
}

func TestArrows(t *testing.T) {
	all := sources(t, "..")
	if len(all) < 50 {
		t.Fatalf("only %d files were found", len(all))
	}
	for _, s := range all {
		for _, b := range broken(s) {
			t.Error(b)
		}
	}
}

// The check can fail: planted imports are named, and what is allowed is not.
func TestArrowsCatchAPlantedImport(t *testing.T) {
	cases := []struct {
		path, code string
		want       string // part of what is said; empty: allowed
	}{
		{"model/custody/custody.go", `import "pawl/model/dates"`, ""},
		{"model/custody/custody.go", `import "pawl/model/markings"`, "model/custody must not import model/markings"},
		{"model/custody/custody.go", `import "pawl/model/internal/store"`, "model/custody must not import model/internal/store"},
		{"model/dates/date.go", `import "pawl/model/units"`, "model/dates must not import model/units"},
		{"model/dates/date.go", `import "database/sql/driver"`, ""},
		{"model/register/tool.go", `import "pawl/model/people"`, "model/register must not import model/people"},
		{"model/register/tool.go", `import "gorm.io/gorm"`, "must not import gorm.io/gorm"},
		{"model/register/tool.go", `import "github.com/gin-gonic/gin"`, "must not import github.com/gin-gonic/gin"},
		{"model/register/tool.go", `import "github.com/urfave/cli/v2"`, "must not import github.com/urfave/cli/v2"},
		{"model/register/tool.go", `import "math/rand/v2"`, "must not import math/rand/v2"},
		{"model/numbers/id.go", `import "crypto/rand"`, "must not import crypto/rand"},
		{"model/people/may.go", `import "time"; var x = time.Now()`, "system's clock"},
		{"model/people/may.go", `import wall "time"; var x = wall.Since`, "system's clock"},
		{"model/people/may.go", `import "time"; var x = time.Hour`, ""},
		{"model/open.go", `import "time"; var x = time.Now`, ""},
		{"model/custody.go", `import "time"; var x = time.Now`, "system's clock"},
		{"model/custody.go", `import "pawl/api"`, "model must not import api"},
		{"labels/pdf.go", `import "pawl/model"`, "labels must not import model"},
		{"api/tools.go", `import "gorm.io/gorm"`, "must not import gorm.io/gorm"},
		{"api/page/tool.go", `import "pawl/api"`, "api/page must not import api"},
		{"api/client/client.go", `import "pawl/model"`, "api/client must not import model"},
		{"cli/take.go", `import "pawl/model/fault"`, ""},
		{"cli/take.go", `import "pawl/model"`, "cli must not import model"},
		{"cli/take.go", `import "pawl/api"`, "cli must not import api"},
		{"cli/take.go", `import "pawl/model/demo"`, "cli must not import model/demo"},
		{"cli/local.go", `import "pawl/model"; import "pawl/api"`, ""},
		{"main.go", `import "pawl/model"`, ". must not import model"},
		{"model/util/util.go", ``, "model/util has no place in the house"},
	}
	for _, c := range cases {
		s, err := parse(c.path, "package x\n"+c.code)
		if err != nil {
			t.Fatal(c.code, err)
		}
		got := strings.Join(broken(s), "; ")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%s with %s: %q, want %q", c.path, c.code, got, c.want)
		}
	}
}

// sources reads every file of the module that is not a test.
func sources(t *testing.T, root string) (out []source) {
	t.Helper()
	err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && path != root && (strings.HasPrefix(e.Name(), ".") || e.Name() == "testdata"):
			return filepath.SkipDir
		case e.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		s, err := parse(filepath.ToSlash(rel), nil, path)
		out = append(out, s)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// parse reads one file, from code where it is given.
func parse(path string, code any, file ...string) (source, error) {
	s := source{path: path}
	name := path
	if len(file) > 0 {
		name = file[0]
	}
	f, err := parser.ParseFile(token.NewFileSet(), name, code, parser.SkipObjectResolution)
	if err != nil {
		return s, err
	}
	clock := "" // what the file calls the package time
	for _, i := range f.Imports {
		imported, err := strconv.Unquote(i.Path.Value)
		if err != nil {
			return s, err
		}
		s.imports = append(s.imports, imported)
		if imported == "time" {
			if clock = "time"; i.Name != nil {
				clock = i.Name.Name
			}
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			x, ok := sel.X.(*ast.Ident)
			s.now = s.now || ok && x.Name == clock && slices.Contains([]string{"Now", "Since", "Until"}, sel.Sel.Name)
		}
		return true
	})
	return s, nil
}
