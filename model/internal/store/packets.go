package store

import (
	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/jobs"
)

// Packet gives one packet.
func (r *Rx) Packet(id string) (claims.Packet, bool, error) {
	return one[claims.Packet](r, "id = ?", id)
}

// PacketsOf gives the packets of a claim, oldest first.
func (r *Rx) PacketsOf(claim string) ([]claims.Packet, error) {
	return many[claims.Packet](r, "created, id", 0, "claim = ?", claim)
}

// SheetsOfLoss gives the police sheets that were drawn of a loss, oldest first.
func (r *Rx) SheetsOfLoss(loss string) ([]claims.Packet, error) {
	return many[claims.Packet](r, "created, id", 0, "loss = ?", loss)
}

// AllPackets gives every packet and every copy that was kept elsewhere, oldest first.
func (r *Rx) AllPackets() ([]claims.Packet, error) {
	return many[claims.Packet](r, "created, id", 0, "created IS NOT NULL")
}

// LastKeptElsewhere gives the newest standing copy that was made.
func (r *Rx) LastKeptElsewhere() (claims.Packet, bool, error) {
	all, err := many[claims.Packet](r, "created DESC, id DESC", 1, "claim IS NULL AND tool IS NULL AND loss IS NULL AND added = ?", claims.Everything)
	if err != nil || len(all) == 0 {
		return claims.Packet{}, false, err
	}
	return all[0], true, nil
}

// LoansOfTool gives every stretch in somebody's hands of a tool, newest first.
func (r *Rx) LoansOfTool(tool string) ([]custody.Loan, error) {
	return many[custody.Loan](r, "since DESC, id DESC", 0, "tool = ?", tool)
}

// JobsByID gives jobs by their ids.
func (r *Rx) JobsByID(ids []string) (map[string]jobs.Job, error) {
	out := map[string]jobs.Job{}
	for _, id := range ids {
		j, found, err := r.Job(id)
		if err != nil {
			return nil, err
		}
		if found {
			out[id] = j
		}
	}
	return out, nil
}

// LinesOf gives the lines about one record, oldest first, also those that are about no
// tool.
func (r *Rx) LinesOf(noun, id string) (out []Entry, err error) {
	err = r.query(func(scan func(...any) error) error {
		var e Entry
		err := scan(&e.Raw, &e.Salt, &e.After)
		out = append(out, e)
		return err
	}, "SELECT line, salt, after FROM lines WHERE noun = ? AND id = ? ORDER BY rev", noun, id)
	return out, err
}

// EntriesFrom gives lines with what they stand for, from one of that seq on.
func (r *Rx) EntriesFrom(seq int64, limit int) ([]Entry, error) { return r.entries(seq, limit) }
