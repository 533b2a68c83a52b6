package store

import (
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/internal/pgtest"
)

// A server that may forget what it answered is refused, unless that is wanted.
func TestAForgetfulPostgresIsRefused(t *testing.T) {
	at := emptySite(t, "sqlite")
	for _, setting := range []string{"fsync", "full_page_writes"} {
		c := at.Config
		c.URL = pgtest.With(t, setting+"=off")
		if _, err := Open(t.Context(), c); !fault.Is(err, fault.Refused) || !strings.Contains(err.Error(), setting+" is off") {
			t.Errorf("%s off: %v", setting, err)
		}
		c.Unsafe = true
		d, err := Open(t.Context(), c)
		if err != nil {
			t.Fatal(err)
		}
		if said, bad, err := d.Engine(t.Context()); err != nil || bad != setting+" is off" || !strings.Contains(said, setting+" off") {
			t.Errorf("%q, %q, %v", said, bad, err)
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestForgets(t *testing.T) {
	for _, c := range []struct{ fsync, commit, pages, want string }{
		{"on", "on", "on", ""}, {"on", "remote_apply", "on", ""}, {"off", "on", "on", "fsync is off"},
		{"on", "off", "on", "synchronous_commit is off"}, {"off", "off", "off", "fsync is off, synchronous_commit is off, full_page_writes is off"},
	} {
		if got := forgets(c.fsync, c.commit, c.pages); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}
