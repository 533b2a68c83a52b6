package model

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pawl/model/fault"
	"pawl/model/internal/s3test"
)

// goesOn opens a shop once more, as it stands, and closes it again.
func goesOn(t *testing.T, g *garage, wantIn string) {
	t.Helper()
	there := g.at(g.engine, g.Dir, g.Database)
	there.Shop = there.open(t)
	wantGoesOn(t, there)
	me, err := there.identity(ctx)
	if err != nil || me.Originals != wantIn {
		t.Errorf("the shop looks for its originals in %q, want %q; %v", me.Originals, wantIn, err)
	}
	there.shut(t)
}

// The photos of a shop go into a bucket, and back into its folder, while its records stay:
// every row is the same, and every photo is read where it went.
func TestOriginalsMoveAlone(t *testing.T) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) {
			g, server := livedIn(t, engine), s3test.New(t)
			g.Env = server.Env
			was := g.everyRow(t)
			out, err := MoveOriginals(ctx, g.Options, s3test.Location)
			if err != nil || !out.OK() || out.Photos != 2 || out.Copied != 2 || out.Originals != s3test.Location {
				t.Fatalf("%+v, %v", out, err)
			}
			if got := server.Keys(t); len(got) != 4 {
				t.Errorf("%q, want two photos, the mark and what was tried", got)
			}
			wantKept(t, was, g.everyRow(t))
			must(t, os.RemoveAll(filepath.Join(g.Dir, "originals"))) // what is left behind is read no more
			goesOn(t, g, s3test.Location)
			_, err = MoveOriginals(ctx, g.Options, s3test.Location)
			wantFault(t, err, fault.Invalid, "already")
			out, err = MoveOriginals(ctx, g.Options, "")
			if err != nil || !out.OK() || out.Photos != 3 || out.Copied != 3 {
				t.Fatalf("%+v, %v", out, err)
			}
			server.Close()
			goesOn(t, g, "")
		})
	}
}

// Where one does not come to lie whole, all of them are where they were; and nobody may have
// the shop open meanwhile.
func TestOriginalsThatDoNotArrive(t *testing.T) {
	g, server := livedIn(t, "sqlite"), s3test.New(t)
	g.Env = server.Env
	_, err := MoveOriginals(ctx, g.Options, "s3://no-such")
	wantFault(t, err, fault.Unavailable, "no bucket")
	upload := hashOf(picture(9)) // which no act names yet
	server.Swap(t, keyOf(upload), append(picture(9)[:len(picture(9))-1], 'x'))
	_, err = MoveOriginals(ctx, g.Options, s3test.Location)
	wantFault(t, err, fault.Conflict, upload)
	server.Drop(t, keyOf(upload))
	named := slices.DeleteFunc(slices.Collect(maps.Values(g.lying(t))), func(sha string) bool { return sha == upload })
	server.Swap(t, keyOf(named[0]), []byte("x"))
	out, err := MoveOriginals(ctx, g.Options, s3test.Location)
	if err == nil && out.OK() {
		t.Errorf("to where other bytes lie: %+v", out)
	}
	goesOn(t, g, "")
	open := g.at(g.engine, g.Dir, g.Database)
	open.Shop = open.open(t)
	_, err = MoveOriginals(ctx, g.Options, s3test.Location)
	wantFault(t, err, fault.Unavailable, "stop that process")
	open.shut(t)
}
