package store

import (
	"slices"

	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/evidence"
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

// SheetsOfLoss gives the police sheets that were handed over of a loss, oldest first.
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

// LoansOfTools gives every stretch in somebody's hands of tools, the newest of each first.
func (r *Rx) LoansOfTools(tools []string) ([]custody.Loan, error) {
	return hangingOn[custody.Loan](r, "since DESC, id DESC", tools)
}

// EvidenceOfTools gives the photos and papers of tools that stand, of each as received.
func (r *Rx) EvidenceOfTools(tools []string) (out []evidence.Record, err error) {
	for some := range slices.Chunk(tools, lookRows) {
		rows, err := many[evidence.Record](r, "received_at, id", 0, "tool IN ? AND withdrawn IS NULL", some)
		if err != nil {
			return nil, err
		}
		out = append(out, rows...)
	}
	return out, nil
}

// OwnerLines gives the lines, of the first size of the ledger, that say whose tools are and
// what papers came about them, with the tool that each is about, by rising place.
func (r *Rx) OwnerLines(tools []string, size int64, each func(tool string, e Entry) error) error {
	for some := range slices.Chunk(tools, lookRows) {
		if err := r.query(func(scan func(...any) error) error {
			var tool string
			var e Entry
			if err := scan(&tool, &e.Raw, &e.Salt, &e.After); err != nil {
				return err
			}
			return each(tool, e)
		}, `SELECT t.tool, l.line, l.salt, l.after FROM line_tools t JOIN lines l ON l.seq = t.seq
			WHERE t.tool IN (`+marks(len(some))+`) AND l.noun IN ('tool', 'evidence') AND t.seq < ? ORDER BY t.seq`, append(values(some), size)...); err != nil {
			return err
		}
	}
	return nil
}

// JobsByID gives jobs by their ids.
func (r *Rx) JobsByID(ids []string) (map[string]jobs.Job, error) {
	out := map[string]jobs.Job{}
	for some := range slices.Chunk(ids, lookRows) {
		rows, err := many[jobs.Job](r, "id", 0, "id IN ?", some)
		if err != nil {
			return nil, err
		}
		for _, j := range rows {
			out[j.ID] = j
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
