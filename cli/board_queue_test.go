package cli

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pawl/model/fault"
)

// What a board kept is there for the next, in order, whatever cut the last line
// short; it is nobody else's, and one board's at a time.
func TestQueue(t *testing.T) {
	path := filepath.Join(t.TempDir(), "state", "board.queue")
	q, err := openQueue(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Errorf("a file is there although nothing waits: %v", err)
	}
	for _, key := range []string{"a", "b", "c"} {
		if err := q.add(waiting{Key: key, Number: "00E-KM5"}); err != nil {
			t.Fatal(err)
		}
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	if _, err := openQueue(path); !fault.Is(err, fault.Conflict) {
		t.Errorf("a second board has it too: %v", err)
	}
	if err := q.over("a", "2026-11-25T09:00:00Z"); err != nil {
		t.Fatal(err)
	}
	if _, err := q.file.WriteString(`{"act":{"key":"d"`); err != nil {
		t.Fatal(err)
	}
	q.close()
	if q, err = openQueue(path); err != nil {
		t.Fatal(err)
	}
	if len(q.acts) != 2 || q.acts[0].Key != "b" || q.acts[1].Key != "c" || q.since["a"] != "2026-11-25T09:00:00Z" {
		t.Errorf("there is %+v, %v", q.acts, q.since)
	}
	for _, key := range []string{"b", "c"} {
		if err := q.over(key, ""); err != nil {
			t.Fatal(err)
		}
	}
	q.close()
	if info, err := os.Stat(path); err != nil || info.Size() != 0 {
		t.Errorf("nothing waits, and the file holds %v, %v", info, err)
	}
	if err := os.WriteFile(path, []byte("not ours\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := openQueue(path); !fault.Is(err, fault.Internal) {
		t.Errorf("what cannot be read is passed over: %v", err)
	}
}

// FuzzQueue: a file that is read is read alike once more, with what was added last.
func FuzzQueue(f *testing.F) {
	f.Add([]byte(`{"act":{"key":"a","number":"00E-KM5"}}` + "\n" + `{"over":"a","since":"2026-11-25T10:00:00Z"}` + "\n"))
	f.Add([]byte(`{"act":{"key":"a"}}` + "\n" + `{"act":{"ke`))
	f.Add([]byte("{}\n\n[]\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		path := filepath.Join(t.TempDir(), "board.queue")
		if err := os.WriteFile(path, raw, 0o600); err != nil {
			t.Fatal(err)
		}
		q, err := openQueue(path)
		if err != nil {
			if !fault.Is(err, fault.Internal) {
				t.Fatal(err)
			}
			q.close()
			return
		}
		if err := q.add(waiting{Key: "last", Number: "00E-KM5"}); err != nil {
			t.Fatal(err)
		}
		want := q.acts
		if err := q.close(); err != nil {
			t.Fatal(err)
		}
		again, err := openQueue(path)
		if err != nil || !slices.Equal(again.acts, want) {
			t.Fatalf("%+v, want %+v (%v)", again.acts, want, err)
		}
		again.close()
	})
}
