package model

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/pgtest"
	"pawl/model/ledger"
	"pawl/model/people"
	"pawl/model/register"
)

var chores = By{Actor: Actor{Via: people.ViaChores}}

// A checkpoint is of the ledger as it stands, signed by the shop's key; asked
// again, it is the same; later ones lead on from it.
func TestCheckpoint(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		first, err := g.Checkpoint(ctx, g.boss)
		if err != nil {
			t.Fatal(err)
		}
		c, err := ledger.Open(first.Note, first.Key)
		if err != nil || c.Size != first.Size || c.Size != g.lines(t) || first.Fingerprint != ledger.Fingerprint(first.Key) {
			t.Errorf("%+v of %+v, %v", c, first, err)
		}
		again, err := g.Checkpoint(ctx, g.techA)
		if err != nil || again != first {
			t.Errorf("asked again: %+v, %v", again, err)
		}
		g.tool(t)
		second, err := g.Checkpoint(ctx, g.boss)
		if err != nil || second.Size != first.Size+2 {
			t.Errorf("%+v, %v", second, err)
		}
		v, err := g.Verify(ctx, g.boss, VerifyQuery{Against: []string{first.Note, second.Note}})
		if err != nil || len(v.Problems) > 0 || v.Checkpoints != 4 || strings.Contains(strings.Join(v.Said, " "), "compared with anything kept outside") {
			t.Errorf("%+v, %v", v, err)
		}
	})
}

func TestVerifyAgainstWhatIsNotOurs(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		other := openGarage(t, "sqlite")
		foreign, err := other.Checkpoint(ctx, other.boss)
		if err != nil {
			t.Fatal(err)
		}
		own, err := g.Checkpoint(ctx, g.boss)
		if err != nil {
			t.Fatal(err)
		}
		v, err := g.Verify(ctx, g.boss, VerifyQuery{Against: []string{own.Note, foreign.Note, "nonsense", strings.Replace(own.Note, "\n", "0\n", 2)}})
		if err != nil || len(v.Problems) != 3 {
			t.Fatalf("%q, %v; want three of the four refused", v.Problems, err)
		}
		for i, p := range v.Problems {
			if !strings.Contains(p, "checkpoint number "+string(rune('2'+i))) {
				t.Errorf("problem %q does not name the checkpoint", p)
			}
		}
		for _, part := range []string{"0/3", "4/3", "x", "1/", "-1/2", "1/2/3", "1/0"} {
			_, err := g.Verify(ctx, g.boss, VerifyQuery{Part: part})
			wantPointers(t, err, "#/part")
		}
	})
}

// The bytes of every original are read again: one changed or gone is named, and
// the parts together read each once.
func TestVerifyReadsTheOriginals(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		var shas []string
		for i := range 12 {
			shas = append(shas, g.upload(t, g.boss, picture(byte(i))))
			if _, err := g.Attach(ctx, g.boss, n, attachOf("other", shas[i])); err != nil {
				t.Fatal(err)
			}
		}
		read := int64(0)
		for _, part := range []string{"1/3", "2/3", "3/3"} {
			v, err := g.Verify(ctx, g.boss, VerifyQuery{Part: part})
			if err != nil || len(v.Problems) > 0 || !strings.Contains(strings.Join(v.Said, " "), "Only part "+part) {
				t.Errorf("%s: %+v, %v", part, v, err)
			}
			read += v.Originals
		}
		if read != 12 {
			t.Errorf("the parts read %d originals, want 12", read)
		}
		g.damaged = true
		path := func(sha string) string { return filepath.Join(g.Dir, "originals", sha[:2], sha[2:]) }
		data, err := os.ReadFile(path(shas[0]))
		if err != nil {
			t.Fatal(err)
		}
		data[len(data)/2] ^= 1
		for _, err := range []error{os.Chmod(path(shas[0]), 0o600), os.WriteFile(path(shas[0]), data, 0o600), os.Remove(path(shas[1]))} {
			if err != nil {
				t.Fatal(err)
			}
		}
		v, err := g.Verify(ctx, g.boss, VerifyQuery{})
		said := strings.Join(v.Problems, "\n")
		if err != nil || len(v.Problems) != 2 || !strings.Contains(said, "original "+shas[0]) || !strings.Contains(said, "original "+shas[1]) || v.Originals != 12 {
			t.Errorf("%+v, %v; want the two named", v, err)
		}
	})
}

// A row changed below Pawl is found by the shop's own verification.
func TestVerifyFindsWhatAnIntruderChanged(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, owned(g.techA))
		v, err := g.Tool(ctx, g.boss, n)
		if err != nil {
			t.Fatal(err)
		}
		g.damaged = true
		if _, err := g.raw(t).Exec("UPDATE tools SET price = 99900"); err != nil {
			t.Fatal(err)
		}
		report, err := g.Verify(ctx, g.boss, VerifyQuery{})
		if err != nil || len(report.Problems) != 1 || !strings.Contains(report.Problems[0], "tool "+v.Tool.ID) || !strings.Contains(report.Problems[0], "price") {
			t.Errorf("%q, %v; want the tool and the column named", report.Problems, err)
		}
	})
}

// Without its key a store signs nothing, and says what to do; all else goes on.
func TestTheSigningKey(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		key := filepath.Join(g.Dir, "keys", "pawl.key")
		info, err := os.Stat(key)
		if err != nil || info.Mode().Perm() != 0o600 {
			t.Fatalf("%v, %v; want a file that only its owner reads", info, err)
		}
		if err := os.Rename(key, key+".away"); err != nil {
			t.Fatal(err)
		}
		_, err = g.Checkpoint(ctx, g.boss)
		wantFault(t, err, fault.Unavailable, "copy keys/pawl.key")
		g.tool(t)
		g.clock.advance(25 * time.Hour)
		_, err = g.Chores(ctx, chores)
		wantFault(t, err, fault.Unavailable, "copy keys/pawl.key")
		if err := os.Rename(key+".away", key); err != nil {
			t.Fatal(err)
		}
		if done, err := g.Chores(ctx, chores); err != nil || len(done) == 0 {
			t.Errorf("%q, %v", done, err)
		}
	})
}

// A second store in the same folder keeps the first one's key: it is the only
// one that can go on with that ledger.
func TestAnotherStoreLeavesTheKeyOfTheFirst(t *testing.T) {
	g := openGarage(t, "sqlite")
	key := filepath.Join(g.Dir, "keys", "pawl.key")
	first, err := os.ReadFile(key)
	if err != nil {
		t.Fatal(err)
	}
	second := *g
	second.Database = pgtest.URL(t)
	s := second.open(t)
	if _, err := s.Checkpoint(ctx, g.boss); err != nil {
		t.Fatal(err)
	}
	kept, err := filepath.Glob(key + ".before-*")
	if err != nil || len(kept) != 1 {
		t.Fatalf("%q, %v", kept, err)
	}
	if got, err := os.ReadFile(kept[0]); err != nil || string(got) != string(first) {
		t.Errorf("the first key is lost: %v", err)
	}
}

// Chores: a roll and a checkpoint a day where something changed; done twice,
// nothing more; one runner at a time.
func TestChores(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		run := func() string {
			done, err := g.Chores(ctx, chores)
			if err != nil {
				t.Fatal(err)
			}
			return strings.Join(done, "; ")
		}
		lines := g.lines(t) + 1 // the roll's
		if said := run(); !strings.Contains(said, "rolled 0 tools in") || !strings.Contains(said, "signed a checkpoint of") {
			t.Errorf("first: %q", said)
		}
		for _, wait := range []time.Duration{0, time.Hour, 48 * time.Hour} {
			g.clock.advance(wait)
			if said := run(); said != "" {
				t.Errorf("again with nothing new, after %s: %q", wait, said)
			}
		}
		if g.lines(t) != lines {
			t.Error("chores left lines")
		}
		g.tool(t)
		if said := run(); !strings.Contains(said, "rolled 1 tools in") || !strings.Contains(said, "signed a checkpoint of") {
			t.Errorf("a change and a day later: %q", said)
		}
		g.tool(t)
		if said := run(); said != "" {
			t.Errorf("a change on the same day: %q", said)
		}
		other := g.open(t)
		ran, err := g.db.Alone(ctx, "chores", func() error {
			done, err := other.Chores(ctx, chores)
			if err != nil || strings.Join(done, "") != "another process is at the chores already" {
				t.Errorf("beside another runner: %q, %v", done, err)
			}
			return nil
		})
		if !ran || err != nil {
			t.Error(ran, err)
		}
	})
}

// Answers kept under replay keys are forgotten after 30 days.
func TestChoresDropOldAnswers(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		by := g.boss
		by.Key = "key 1"
		if _, err := g.AddPlace(ctx, by, "Van"); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(30 * 24 * time.Hour)
		done, err := g.Chores(ctx, chores)
		if err != nil || !strings.Contains(strings.Join(done, "; "), "forgot 1 old answers") {
			t.Errorf("%q, %v", done, err)
		}
	})
}

func attachOf(kind, sha string) []register.Attach {
	return []register.Attach{{Kind: kind, SHA256: sha}}
}

func TestReady(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if err := g.Ready(ctx); err != nil {
			t.Error(err)
		}
		s, err := Open(ctx, g.Options)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		wantFault(t, s.Ready(ctx), fault.Unavailable, "does not answer")
	})
}
