package register

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/names"
)

// However places are added, moved, renamed and closed, they stay a tree: every open one
// is found by its own path, none is in itself or too deep, and no two of one name lie
// beside one another.
func TestPlacesStayATree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tree := Places{}
		some := func(label string) Place { // none is the top
			open := []string{""}
			for _, id := range slices.Sorted(maps.Keys(tree)) {
				if tree[id].Withdrawn == 0 {
					open = append(open, id)
				}
			}
			return tree[rapid.SampledFrom(open).Draw(t, label)]
		}
		name := rapid.SampledFrom([]string{"Bay", "bay", "Cart", "Box", "Van"})
		for i := range rapid.IntRange(1, 60).Draw(t, "acts") {
			p := some("place")
			var next Place
			var err error
			switch rapid.IntRange(0, 3).Draw(t, "act") {
			case 0:
				n := name.Draw(t, "name")
				if _, taken := tree.Child(p.ID, n); taken || tree.depth(p.ID) >= MaxDepth {
					continue
				}
				next = Place{ID: fmt.Sprintf("G-%02d", i), Parent: p.ID, Name: n, NameKey: names.Key(n)}
			case 1:
				next, err = tree.MayMove(p, some("into"))
			case 2:
				next, err = tree.MayRename(p, name.Draw(t, "name"))
			default:
				next, err = p, tree.MayClose(p, 0)
				next.Withdrawn = dates.Instant(i + 1)
			}
			if err != nil || next.ID == "" {
				continue
			}
			tree[next.ID] = next
			checkTree(t, tree)
		}
	})
}

func checkTree(t *rapid.T, tree Places) {
	for id, p := range tree {
		if p.Withdrawn != 0 {
			continue
		}
		path := tree.Path(id)
		found, err := tree.Resolve(path)
		if err != nil || found.ID != id {
			t.Fatalf("%s is at %q, where %s is (%v)", id, path, found.ID, err)
		}
		if deep := tree.depth(id); deep > MaxDepth {
			t.Fatalf("%q is %d levels deep", path, deep)
		}
		if p.Parent != "" && tree[p.Parent].Withdrawn != 0 {
			t.Fatalf("%q is in a place that was closed", path)
		}
	}
	if under := len(tree.Under("")) - 1; under != len(tree)-closedPlaces(tree) {
		t.Fatalf("%d are below the top, %d are open", under, len(tree)-closedPlaces(tree))
	}
}

func closedPlaces(tree Places) (n int) {
	for _, p := range tree {
		if p.Withdrawn != 0 {
			n++
		}
	}
	return n
}
