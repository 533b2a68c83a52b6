package store

import "pawl/model/register"

// Places gives the whole tree.
func (r *Rx) Places() (register.Places, error) {
	all, err := many[register.Place](r, "id", 0, "id <> ''")
	tree := register.Places{}
	for _, p := range all {
		tree[p.ID] = p
	}
	return tree, err
}
