package backups

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
)

func example() List {
	return List{
		Store: "00112233aabbccdd", Shop: "Gull Lane Garage", Taken: dates.Instant(1764417600_000001), Schema: 16, Lines: 12345,
		Root: "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=", Photos: 3, Bytes: 9_000_000, Files: []File{
			{"records-20261129T120000000001Z.db", 4096, strings.Repeat("ab", 32)}, {"keys/pawl.key", 120, strings.Repeat("cd", 32)},
			{"keys/pawl.pub", 80, strings.Repeat("ef", 32)},
		},
	}
}

func TestAListComesBackAsItWasWritten(t *testing.T) {
	want := example()
	got, err := Parse(want.String())
	if err != nil || got.String() != want.String() || got.Records() != want.Files[0] {
		t.Errorf("%+v, %v", got, err)
	}
}

// Whatever one byte of a list is changed to, it is no list any more.
func TestAnyByteChangedIsFound(t *testing.T) {
	text := []byte(example().String())
	for i := range text {
		for _, bit := range []byte{1, 0x20, 0x80} {
			text[i] ^= bit
			if _, err := Parse(string(text)); !fault.Is(err, fault.Refused) {
				t.Fatalf("byte %d changed to %q: %v", i, text[i], err)
			}
			text[i] ^= bit
		}
	}
	for cut := range len(text) {
		if _, err := Parse(string(text[:cut])); !fault.Is(err, fault.Refused) {
			t.Fatalf("cut after %d bytes: %v", cut, err)
		}
	}
}

// A list that somebody wrote anew, with a right sum, still leads nowhere outside.
func TestNoPathLeadsOut(t *testing.T) {
	for _, path := range []string{"../pawl.db", "keys/../../x", "/etc/passwd", "records-20261129T120000Z.db/../x", "keys/.hidden", "keys/a b", "pawl.db", "keys/", "other/x"} {
		l := example()
		l.Files[1].Path = path
		if got, err := Parse(l.String()); !fault.Is(err, fault.Refused) {
			t.Errorf("%q: %+v, %v", path, got.Files, err)
		}
	}
	for what, change := range map[string]func(*List){
		"no files": func(l *List) { l.Files = nil }, "keys first": func(l *List) { l.Files = l.Files[1:] },
		"one twice": func(l *List) { l.Files[2] = l.Files[1] }, "a line of more": func(l *List) { l.Shop += "\nfile x" },
		"no shop": func(l *List) { l.Shop = "" }, "another root": func(l *List) { l.Root = "x" }, "below zero": func(l *List) { l.Lines = -1 },
	} {
		l := example()
		change(&l)
		if _, err := Parse(l.String()); !fault.Is(err, fault.Refused) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

func TestSort(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		files := rapid.Permutation(example().Files).Draw(t, "files")
		Sort(files)
		for i, f := range example().Files {
			if files[i] != f {
				t.Fatalf("%v", files)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add(example().String())
	f.Add("pawl backup 2\nsum x\n")
	f.Fuzz(func(t *testing.T, text string) {
		l, err := Parse(text)
		if err == nil && l.String() != text {
			t.Errorf("%q was read as %q", text, l.String())
		}
		if err != nil && !fault.Is(err, fault.Refused) {
			t.Errorf("%q: %v", text, err)
		}
	})
}
