// Package backups holds the list that lies in every backup: what shop it is of, how
// far its ledger goes, and the size and SHA-256 of each file but the originals, which
// bear theirs as their names. The list ends with its own SHA-256, so that one changed
// byte anywhere in a backup is found.
package backups

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/pattern"
)

// Names in a backup.
const (
	ListFile  = "backup.txt"
	Originals = "originals"
	Keys      = "keys"
)

const heading = "pawl backup 1"

// List is what a backup says of itself.
type List struct {
	Store  string        // id of the store
	Shop   string        // its name
	Taken  dates.Instant // when its records were read
	Schema int64         // of the file of records
	Lines  int64         // in its ledger
	Root   string        // of that ledger
	Photos int64         // originals that its records name and that were there to be copied
	Bytes  int64         // all of them together
	Files  []File        // the file of records first, then the keys
}

// File is one file of a backup. Its path is within the backup, with slashes.
type File struct {
	Path   string
	Bytes  int64
	SHA256 string
}

// Records is the file of records.
func (l List) Records() File { return l.Files[0] }

// String writes the list, its own SHA-256 last.
func (l List) String() string {
	var out strings.Builder
	fmt.Fprintf(&out, "%s\nstore %s\nshop %s\ntaken %s\nschema %d\nlines %d\nroot %s\noriginals %d\nbytes %d\n",
		heading, l.Store, l.Shop, l.Taken, l.Schema, l.Lines, l.Root, l.Photos, l.Bytes)
	for _, f := range l.Files {
		fmt.Fprintf(&out, "file %s %d %s\n", f.SHA256, f.Bytes, f.Path)
	}
	return out.String() + "sum " + sum(out.String()) + "\n"
}

func sum(text string) string {
	s := sha256.Sum256([]byte(text))
	return hex.EncodeToString(s[:])
}

var (
	shapeStore = pattern.Late(`^[0-9a-f]{16}$`)
	shapeHash  = pattern.Late(`^[0-9a-f]{64}$`)
	// shapeFile is the file of records, or one of the keys: no other path is followed.
	shapeFile = pattern.Late(`^(` + records + `|keys/` + key + `)$`)
	shapeKey  = pattern.Late(`^` + key + `$`)
	// shapeOurs is a file of records, or what was left beside one that was never whole.
	shapeOurs = pattern.Late(`^` + records + `(\.part|-wal|-shm|-journal)?$`)
)

const (
	records = `records-[0-9TZ]{16,24}\.db`
	key     = `[A-Za-z0-9][A-Za-z0-9.-]{0,99}`
)

// IsKey says whether a file in the folder of keys can stand in a list. Whatever else lies
// there was put there by others, and no list that named it could be read again.
func IsKey(name string) bool { return shapeKey().MatchString(name) }

// IsRecords says whether a backup names its records so, or what it writes beside them. All
// else in its folder is somebody's own, whatever it begins with.
func IsRecords(name string) bool { return shapeOurs().MatchString(name) }

// Parse reads a list. Its faults are Refused: it is no list, of a newer program, or
// changed since it was written.
func Parse(text string) (l List, err error) {
	body, last, found := strings.Cut(text, "\nsum ")
	if !strings.HasPrefix(text, "pawl backup ") || !found {
		return l, fault.New(fault.Refused, "%s is not the list of a backup, or its end is missing", ListFile).WithHint("name the folder that pawl backup wrote")
	}
	if first, _, _ := strings.Cut(text, "\n"); first != heading {
		return l, fault.New(fault.Refused, "the backup is written as %q, which this program does not know", fault.Clip(first)).WithHint("use the newer program")
	}
	if last != sum(body+"\n")+"\n" {
		return l, fault.New(fault.Refused, "%s was changed since the backup was made, or is damaged", ListFile).WithHint("use another backup")
	}
	lines := strings.Split(body, "\n")[1:]
	for _, f := range []struct {
		name string
		set  func(string) error
	}{
		{"store", shaped(&l.Store, shapeStore())}, {"shop", shaped(&l.Shop, regexp.MustCompile(`.`))}, {"taken", instant(&l.Taken)},
		{"schema", whole(&l.Schema)}, {"lines", whole(&l.Lines)}, {"root", shaped(&l.Root, regexp.MustCompile(`^[A-Za-z0-9+/]{43}=$`))},
		{"originals", whole(&l.Photos)}, {"bytes", whole(&l.Bytes)},
	} {
		value, ok := "", false
		if len(lines) > 0 {
			value, ok = strings.CutPrefix(lines[0], f.name+" ")
		}
		if !ok || f.set(value) != nil {
			return List{}, wrong(f.name)
		}
		lines = lines[1:]
	}
	for _, line := range lines {
		f, err := parseFile(line)
		if err != nil || slices.ContainsFunc(l.Files, func(o File) bool { return o.Path == f.Path }) {
			return List{}, wrong("file")
		}
		l.Files = append(l.Files, f)
	}
	if len(l.Files) == 0 || !strings.HasPrefix(l.Files[0].Path, "records-") || len(l.Files) > 100 {
		return List{}, wrong("file")
	}
	return l, nil
}

func parseFile(line string) (f File, err error) {
	words := strings.Split(line, " ")
	if len(words) != 4 || words[0] != "file" || !shapeHash().MatchString(words[1]) || !shapeFile().MatchString(words[3]) {
		return f, wrong("file")
	}
	f = File{Path: words[3], SHA256: words[1]}
	return f, whole(&f.Bytes)(words[2])
}

func wrong(name string) error {
	return fault.New(fault.Refused, "%s does not say its %s in a way that is known", ListFile, name).WithHint("use another backup")
}

func shaped(to *string, shape *regexp.Regexp) func(string) error {
	return func(s string) error {
		if !shape.MatchString(s) {
			return wrong("values")
		}
		*to = s
		return nil
	}
}

func whole(to *int64) func(string) error {
	return func(s string) (err error) {
		if *to, err = strconv.ParseInt(s, 10, 64); err == nil && (*to < 0 || strconv.FormatInt(*to, 10) != s) {
			err = wrong("values")
		}
		return err
	}
}

func instant(to *dates.Instant) func(string) error {
	return func(s string) error {
		t, err := time.Parse(time.RFC3339Nano, s)
		if *to = dates.InstantOf(t); err == nil && to.String() != s {
			err = wrong("values")
		}
		return err
	}
}

// Sort puts the file of records first and the keys by name.
func Sort(files []File) {
	slices.SortFunc(files, func(a, b File) int {
		if r := cmp.Compare(strings.Count(a.Path, "/"), strings.Count(b.Path, "/")); r != 0 {
			return r
		}
		return strings.Compare(a.Path, b.Path)
	})
}
