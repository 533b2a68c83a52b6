package store

import "pawl/model/fault"

// EntriesAt gives the lines at those places.
func (r *Rx) EntriesAt(seqs []int64) ([]Entry, error) {
	out := make([]Entry, 0, len(seqs))
	for _, seq := range seqs {
		found := len(out)
		err := r.query(func(scan func(...any) error) error {
			var e Entry
			err := scan(&e.Raw, &e.Salt, &e.After)
			out = append(out, e)
			return err
		}, "SELECT line, salt, after FROM lines WHERE seq = ?", seq)
		if err == nil && len(out) != found+1 {
			err = fault.New(fault.Internal, "ledger line %d is not there", seq).WithHint("run pawl verify")
		}
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}
