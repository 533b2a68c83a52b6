package units

import "testing"

func TestCount(t *testing.T) {
	for _, c := range []struct {
		n    int
		what string
		want string
	}{
		{0, "tool", "0 tools"}, {1, "tool", "1 tool"}, {2, "tool", "2 tools"}, {1, "stretch", "1 stretch"}, {2, "stretch", "2 stretches"}, {2, "more job", "2 more jobs"},
	} {
		if got := Count(c.n, c.what); got != c.want || got != Count(int64(c.n), c.what) {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
