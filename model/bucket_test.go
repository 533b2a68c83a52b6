package model

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/s3test"
)

// inBucket is a garage whose originals are in a bucket, with one tool and its photo.
func inBucket(t *testing.T, engine string) (g *garage, server *s3test.Server, number string) {
	t.Helper()
	server = s3test.New(t)
	first := openGarage(t, engine)
	first.shut(t)
	g = first.at(engine, first.Dir, first.Database)
	g.Env, g.Originals = server.Env, s3test.Location
	g.Shop = g.open(t)
	g.Options.Originals = "" // from now on the shop knows
	number = g.tool(t)
	g.photograph(t, number, 1)
	return g, server, number
}

func keyOf(sha string) string { return "shop/" + sha[:2] + "/" + sha[2:] }

func TestOriginalsInABucket(t *testing.T) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) {
			g, server, number := inBucket(t, engine)
			sha := hashOf(picture(1))
			if got := server.Bytes(t, keyOf(sha)); !bytes.Equal(got, picture(1)) {
				t.Errorf("the bucket has %d bytes", len(got))
			}
			if left, err := filepath.Glob(filepath.Join(g.Dir, "originals", "*", "*")); err != nil || len(left) > 0 {
				t.Errorf("in the folder: %q, %v", left, err)
			}
			// A second process, which is told of no bucket, is a replica; on another computer, but
			// for the key, which both have.
			o := g.Options
			if engine == "postgres" {
				o.Dir = t.TempDir()
				if err := os.CopyFS(filepath.Join(o.Dir, "keys"), os.DirFS(filepath.Join(g.Dir, "keys"))); err != nil {
					t.Fatal(err)
				}
			}
			replica, err := Open(ctx, o)
			if err != nil {
				t.Fatal(err)
			}
			defer replica.Close()
			f, _, err := replica.OpenOriginal(ctx, g.boss, sha)
			if err != nil {
				t.Fatal(err)
			}
			raw, err := io.ReadAll(f)
			if err != nil || !bytes.Equal(raw, picture(1)) || f.Close() != nil {
				t.Errorf("through the replica: %d bytes, %v", len(raw), err)
			}
			small, err := replica.View(ctx, g.boss, sha, "small")
			if err != nil || len(small) == 0 {
				t.Errorf("a view: %d bytes, %v", len(small), err)
			}
			if _, created, err := replica.StoreOriginal(ctx, g.techA, Upload{SHA256: sha, Size: -1}, bytes.NewReader(picture(1))); err != nil || created {
				t.Errorf("the same from another: %v, %v", created, err)
			}
			if _, err := replica.Checkpoint(ctx, g.boss); err != nil {
				t.Error(err)
			}
			g.photograph(t, number, 2)
			for part, want := range map[string]int64{"": 2, "1/2": 1, "2/2": 1} {
				if part != "" { // which part one is in is its hash's affair
					want = 0
					for shade := byte(1); shade <= 2; shade++ {
						if first := hashOf(picture(shade))[7]; (strings.IndexByte("02468ace", first) >= 0) == (part == "1/2") {
							want++
						}
					}
				}
				v, err := replica.Verify(ctx, g.boss, VerifyQuery{Part: part})
				if err != nil || len(v.Problems) > 0 || v.Originals != want {
					t.Errorf("part %q: %+v, %v; want %d originals", part, v, err, want)
				}
			}
		})
	}
}

// Where the originals are is the shop's to know: nobody puts some elsewhere by leaving a
// flag out, or by another.
func TestAShopKnowsWhereItsOriginalsAre(t *testing.T) {
	g, server, _ := inBucket(t, "sqlite")
	for what, c := range map[string]struct {
		originals string
		env       func(string) string
		kind      fault.Kind
		says      string
	}{
		"another prefix":     {s3test.Location + "/2", server.Env, fault.Refused, s3test.Location},
		"no bucket at all":   {"here", server.Env, fault.Invalid, "s3://"},
		"the way to nothing": {"", nil, fault.Invalid, "AWS_ENDPOINT_URL_S3"},
	} {
		o := g.Options
		o.Originals, o.Env = c.originals, c.env
		s, err := Open(ctx, o)
		if err == nil {
			s.Close()
		}
		wantFault(t, err, c.kind, c.says)
		if t.Failed() {
			t.Fatal(what)
		}
	}
	home := openGarage(t, "sqlite")
	home.upload(t, home.boss, picture(1))
	o := home.Options
	o.Originals, o.Env = s3test.Location, server.Env
	_, err := Open(ctx, o)
	wantFault(t, err, fault.Refused, "in the folder originals")
}

// A bucket that is away is said to be: nothing is half-written, and what needs no original
// goes on. When it is back, so does the rest.
func TestABucketThatIsAway(t *testing.T) {
	g, server, number := inBucket(t, "sqlite")
	lines := g.lines(t)
	for what, answer := range map[string]func(http.ResponseWriter, *http.Request) bool{
		"silent":  func(http.ResponseWriter, *http.Request) bool { panic(http.ErrAbortHandler) },
		"failing": func(w http.ResponseWriter, _ *http.Request) bool { w.WriteHeader(500); return true },
		"closed":  func(w http.ResponseWriter, _ *http.Request) bool { w.WriteHeader(403); return true },
	} {
		server.Between(answer)
		data := picture(50)
		_, created, err := g.StoreOriginal(ctx, g.boss, Upload{SHA256: hashOf(data), Size: -1}, bytes.NewReader(data))
		if !fault.Is(err, fault.Unavailable) || created || fault.Of(err).Hint == "" {
			t.Errorf("%s: an upload: %v, %v", what, created, err)
		}
		_, err = g.Attach(ctx, g.boss, number, attachOf("whole", hashOf(data)))
		wantFault(t, err, fault.NotFound, "upload it first")
		if _, _, err := g.OpenOriginal(ctx, g.boss, hashOf(picture(1))); !fault.Is(err, fault.Unavailable) {
			t.Errorf("%s: an original: %v", what, err)
		}
		if v, err := g.Verify(ctx, g.boss, VerifyQuery{}); !fault.Is(err, fault.Unavailable) {
			t.Errorf("%s: verify: %+v, %v; nothing was found wrong", what, v, err)
		}
		if _, err := g.Backup(ctx, filepath.Join(t.TempDir(), "backup"), ""); !fault.Is(err, fault.Unavailable) {
			t.Errorf("%s: a backup: %v", what, err)
		}
		wantCheckup(t, g, "bucket", NotInOrder, "")
		wantCheckup(t, g, "originals", NotChecked, "does not answer")
		s, err := Open(ctx, g.Options)
		if err != nil {
			t.Fatalf("%s: it does not open: %v", what, err)
		}
		if _, err := s.Take(ctx, g.boss, number, Take{To: "Tech A"}); err != nil {
			t.Errorf("%s: a take: %v", what, err)
		}
		if _, err := s.Return(ctx, g.boss, number, Return{}); err != nil {
			t.Errorf("%s: a return: %v", what, err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	server.Between(nil)
	if n := g.lines(t); n != lines+6 {
		t.Errorf("%d lines more, want those of three takes and three returns", n-lines)
	}
	g.photograph(t, number, 50)
	if got := server.Keys(t); len(got) != 3 {
		t.Errorf("%q, want the mark and two photos", got)
	}
}

// A bucket that answers nothing for as long as it likes holds up nobody else: tools are taken
// and put back while an upload and the removal of an orphan wait for it.
func TestABucketThatHangsHoldsUpNobody(t *testing.T) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) {
			g, server, number := inBucket(t, engine)
			server.Swap(t, keyOf(hashOf(picture(60))), picture(60)) // which nothing names
			for what, slow := range map[string]struct {
				method string
				do     func() error
			}{
				"an upload":  {http.MethodHead, func() error { g.upload(t, g.techA, picture(61)); return nil }},
				"an orphan":  {http.MethodDelete, func() error { _, err := g.removeUnwanted(ctx, g.boss, hashOf(picture(60))); return err }},
				"one put in": {http.MethodPut, func() error { g.upload(t, g.techA, picture(62)); return nil }},
			} {
				hangs, goOn, done := make(chan bool), make(chan bool), make(chan error)
				var once sync.Once
				server.Between(func(_ http.ResponseWriter, r *http.Request) bool {
					if r.Method == slow.method {
						once.Do(func() {
							hangs <- true
							<-goOn
						})
					}
					return false
				})
				go func() { done <- slow.do() }()
				<-hangs
				took := make(chan error)
				go func() {
					_, err := g.Take(ctx, g.boss, number, Take{To: "Tech A"})
					if err == nil {
						_, err = g.Return(ctx, g.boss, number, Return{})
					}
					took <- err
				}()
				select {
				case err := <-took:
					if err != nil {
						t.Errorf("%s: %v", what, err)
					}
					close(goOn)
				case err := <-done: // the bucket was given up, and the take waits for no more
					t.Errorf("%s: a take waited for the bucket: %v", what, err)
					close(goOn)
					<-took
					continue
				}
				if err := <-done; err != nil {
					t.Errorf("%s: %v", what, err)
				}
			}
		})
	}
}

// wantCheckup holds one thing that doctor looks at.
func wantCheckup(t *testing.T, g *garage, what string, health Health, says string) {
	t.Helper()
	d, err := g.Doctor(ctx, g.boss, DoctorQuery{})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(d.Checkups, func(c Checkup) bool { return c.What == what })
	if i < 0 || d.Checkups[i].Health != health || !strings.Contains(d.Checkups[i].Says, says) {
		t.Errorf("%s: %+v, want %s that says %q", what, d.Checkups, health, says)
	}
	if bad := health == LookAt || health == NotInOrder; bad && (d.OK || d.Checkups[i].Do == "") {
		t.Errorf("%s: ok %v, and %q is to be done", what, d.OK, d.Checkups[i].Do)
	}
}

func TestDoctorLooksAtABucket(t *testing.T) {
	g, server, _ := inBucket(t, "sqlite")
	g.clock.advance(time.Since(g.clock.Now()))
	wantCheckup(t, g, "bucket", InOrder, "versions: off")
	wantCheckup(t, g, "originals", InOrder, "1 are named")
	g.clock.advance(-time.Hour)
	wantCheckup(t, g, "bucket", LookAt, "from ours")
	g.clock.advance(time.Hour)
	server.Forgetful()
	wantCheckup(t, g, "bucket", NotInOrder, "over the first")
	server.Between(nil)
	server.Swap(t, keyOf(hashOf(picture(1))), []byte("short"))
	wantCheckup(t, g, "originals", NotInOrder, "1 of 1")
	server.Drop(t, keyOf(hashOf(picture(1))))
	wantCheckup(t, g, "originals", NotInOrder, "1 of 1")
	server.Swap(t, keyOf(hashOf(picture(1))), picture(1))
}

// What is missing from a bucket, and what was swapped for as many other bytes, is named by
// verify, in its part too, and kept out of a backup.
func TestVerifyNamesWhatABucketLost(t *testing.T) {
	g, server, _ := inBucket(t, "sqlite")
	sha := hashOf(picture(1))
	to := filepath.Join(t.TempDir(), "backup")
	for what, spoil := range map[string]func(){
		"swapped": func() { bad := picture(1); bad[len(bad)-1] ^= 1; server.Swap(t, keyOf(sha), bad) },
		"missing": func() { server.Drop(t, keyOf(sha)) },
	} {
		spoil()
		found := 0
		for _, part := range []string{"", "1/2", "2/2"} {
			v, err := g.Verify(ctx, g.boss, VerifyQuery{Part: part})
			if err != nil {
				t.Fatal(err)
			}
			if len(v.Problems) == 1 && strings.Contains(v.Problems[0], sha) {
				found++
			}
		}
		if found != 2 {
			t.Errorf("%s: named by %d of three looks, want the whole and its part", what, found)
		}
		b, err := g.Backup(ctx, to, "")
		if err != nil || b.OK() || len(b.lost) != 1 {
			t.Errorf("%s: a backup: %+v, %v", what, b.Verified, err)
		}
	}
	server.Swap(t, keyOf(sha), picture(1))
	if b := g.backupTo(t, to); b.Copied != 1 || b.Photos != 1 {
		t.Errorf("%+v", b)
	}
}

// A backup of a shop with a bucket is a folder, and grows by what is new. It is restored
// into a folder or a bucket, whatever it came from.
func TestABackupOfABucket(t *testing.T) {
	g, server, number := inBucket(t, "sqlite")
	to := filepath.Join(t.TempDir(), "backup")
	if b := g.backupTo(t, to); b.Copied != 1 {
		t.Errorf("%+v", b)
	}
	g.photograph(t, number, 2)
	g.clock.advance(time.Second)
	if b := g.backupTo(t, to); b.Copied != 1 || b.Photos != 2 {
		t.Errorf("the second: %+v", b)
	}
	other := s3test.New(t)
	for what, r := range map[string]Restore{
		"a folder":       {},
		"another bucket": {Originals: s3test.Location, Env: other.Env},
		"the same one":   {Originals: s3test.Location, Env: server.Env},
	} {
		t.Run(what, func(t *testing.T) {
			r.From, r.Dir, r.Clock = to, filepath.Join(t.TempDir(), "new"), g.clock.Now
			done, err := RestoreShop(ctx, r)
			if err != nil || !done.OK() {
				t.Fatalf("%q, %v", done.Verified.Problems, err)
			}
			back := g.at("sqlite", r.Dir, "")
			back.Env = r.Env
			back.Shop = back.open(t)
			f, _, err := back.OpenOriginal(ctx, back.boss, hashOf(picture(2)))
			if err != nil {
				t.Fatal(err)
			}
			f.Close()
			_, err = os.Stat(filepath.Join(r.Dir, "originals"))
			if (err == nil) != (r.Originals == "") {
				t.Errorf("a folder of originals: %v", err)
			}
		})
	}
	third := s3test.New(t)
	bad := picture(2)
	bad[len(bad)-1] ^= 1
	third.Swap(t, keyOf(hashOf(bad)), bad)
	third.Swap(t, keyOf(hashOf(picture(2))), bad) // as long, and other bytes
	done, err := RestoreShop(ctx, Restore{From: to, Dir: filepath.Join(t.TempDir(), "new"), Clock: g.clock.Now, Originals: s3test.Location, Env: third.Env})
	if err != nil || done.OK() || !strings.Contains(fmt.Sprint(done.Verified.Problems), hashOf(picture(2))) {
		t.Errorf("into a bucket with a damaged one: %+v, %v", done.Verified, err)
	}
}

// What a bucket does not answer for is not lost: a backup whose own copy is damaged then
// cannot be made, and says so.
func TestABackupWhileABucketIsAway(t *testing.T) {
	g, server, number := inBucket(t, "sqlite")
	g.photograph(t, number, 7)
	to := filepath.Join(t.TempDir(), "backup")
	g.backupTo(t, to)
	var kept string
	if err := filepath.WalkDir(filepath.Join(to, "originals"), func(path string, f fs.DirEntry, err error) error {
		if err == nil && f.Type().IsRegular() && len(f.Name()) == 62 {
			kept = path
		}
		return err
	}); err != nil || kept == "" {
		t.Fatal(kept, err)
	}
	if err := errors.Join(os.Chmod(kept, 0o600), os.WriteFile(kept, []byte("other bytes"), 0o600)); err != nil {
		t.Fatal(err)
	}
	g.clock.advance(time.Hour)
	server.Between(func(w http.ResponseWriter, r *http.Request) bool {
		w.WriteHeader(http.StatusServiceUnavailable)
		return true
	})
	b, err := g.Backup(ctx, to, "")
	server.Between(nil)
	if !fault.Is(err, fault.Unavailable) || len(b.lost) > 0 {
		t.Errorf("%q are called lost (%v)", b.lost, err)
	}
	g.backupTo(t, to)
}

// Bytes that nothing names go after a day, by the bucket's own dates; what is named stays,
// and so does what is none of ours.
func TestOrphansLeaveABucket(t *testing.T) {
	g, server, _ := inBucket(t, "postgres")
	g.clock.advance(time.Since(g.clock.Now()))
	g.upload(t, g.boss, picture(30))
	orphan := hashOf(picture(31))
	server.Swap(t, keyOf(orphan), picture(31))
	server.Swap(t, "shop/notes.txt", []byte("not ours"))
	all := server.Keys(t)
	chores := func() []string {
		t.Helper()
		if _, err := g.Chores(ctx, g.boss); err != nil {
			t.Fatal(err)
		}
		return server.Keys(t)
	}
	g.clock.advance(23 * time.Hour)
	if got := chores(); !slices.Equal(got, all) {
		t.Errorf("after 23 hours: %q", got)
	}
	g.clock.advance(2 * time.Hour)
	want := slices.DeleteFunc(all, func(k string) bool { return k == keyOf(orphan) || k == keyOf(hashOf(picture(30))) })
	if got := chores(); !slices.Equal(got, want) || len(want) != 3 {
		t.Errorf("after 25 hours: %q, want %q", got, want)
	}
}

// The credentials and what is signed with them come into no log, no answer and no file.
func TestNoSecretIsTold(t *testing.T) {
	g, server, _ := inBucket(t, "sqlite")
	server.Between(func(w http.ResponseWriter, _ *http.Request) bool { w.WriteHeader(403); return true })
	data := picture(60)
	_, _, err := g.StoreOriginal(ctx, g.boss, Upload{SHA256: hashOf(data), Size: -1}, bytes.NewReader(data))
	told := fmt.Sprint(err)
	for e := err; e != nil; e = errors.Unwrap(e) {
		told += fmt.Sprintf("\n%s %+v", e, e)
	}
	server.Between(nil)
	err = filepath.WalkDir(g.Dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		raw, err := os.ReadFile(path)
		told += string(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, secret := range []string{server.Env("AWS_SECRET_ACCESS_KEY"), "Signature="} {
		if strings.Contains(told, secret) {
			t.Errorf("%q is told", secret)
		}
	}
}
