package store

import (
	"slices"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
)

// Loss gives one by id.
func (r *Rx) Loss(id string) (claims.Loss, bool, error) {
	return one[claims.Loss](r, "id = ?", id)
}

// LossesFound gives the losses that were found out at an instant.
func (r *Rx) LossesFound(at dates.Instant) ([]claims.Loss, error) {
	return many[claims.Loss](r, "id", 0, "found = ?", at)
}

// LossOfCount gives the loss that a count of what is left belongs to.
func (r *Rx) LossOfCount(count string) (claims.Loss, bool, error) {
	return one[claims.Loss](r, `"count" = ?`, count)
}

// LossesBefore gives losses that were entered before (at, id), newest first. Person, where
// it is not nil, picks those that somebody reported, or that tools of theirs are on.
func (r *Rx) LossesBefore(at int64, id string, person *string, limit int) ([]claims.Loss, error) {
	where, args := "(started < ? OR (started = ? AND id < ?))", []any{at, at, id}
	if person != nil {
		where += ` AND (person = ? OR EXISTS (SELECT 1 FROM loss_lines n JOIN tools t ON t.id = n.tool WHERE n.loss = losses.id AND t.owner = ? AND t.outsider IS NULL))`
		args = append(args, *person, *person)
	}
	return many[claims.Loss](r, "started DESC, id DESC", limit, where, args...)
}

// LossLines gives the lines of losses, by their numbers.
func (r *Rx) LossLines(losses ...string) ([]claims.LossLine, error) {
	var out []claims.LossLine
	for some := range slices.Chunk(losses, lookRows) {
		all, err := many[claims.LossLine](r, "loss, line, id", 0, "loss IN ?", some)
		if err != nil {
			return nil, err
		}
		out = append(out, all...)
	}
	return out, nil
}

// LossLinesOf gives the lines that a tool is on, in any loss, the oldest first.
func (r *Rx) LossLinesOf(tool string) ([]claims.LossLine, error) {
	return many[claims.LossLine](r, "loss, line, id", 0, "tool = ?", tool)
}

// OpenLossLines gives the lines of tools that are still not back.
func (r *Rx) OpenLossLines() ([]claims.LossLine, error) {
	return many[claims.LossLine](r, "loss, line, id", 0, "withdrawn IS NULL AND recovered IS NULL")
}

// EvidenceOfLoss gives what is about a loss as a whole, as received.
func (r *Rx) EvidenceOfLoss(loss string) ([]evidence.Record, error) {
	return many[evidence.Record](r, "received_at, id", 0, "loss = ? AND withdrawn IS NULL", loss)
}

// Claim gives one by id.
func (r *Rx) Claim(id string) (claims.Claim, bool, error) {
	return one[claims.Claim](r, "id = ?", id)
}

// ClaimsBefore gives claims that were opened before (at, id), newest first.
func (r *Rx) ClaimsBefore(at int64, id string, limit int) ([]claims.Claim, error) {
	return many[claims.Claim](r, "opened DESC, id DESC", limit, "(opened < ? OR (opened = ? AND id < ?))", at, at, id)
}

// ClaimsOfLoss gives those that were opened on a loss, the oldest first.
func (r *Rx) ClaimsOfLoss(loss string) ([]claims.Claim, error) {
	return many[claims.Claim](r, "opened, id", 0, "loss = ?", loss)
}

// ClaimsOfTool gives those on one tool's warranty or ownership, the oldest first.
func (r *Rx) ClaimsOfTool(tool string) ([]claims.Claim, error) {
	return many[claims.Claim](r, "opened, id", 0, "tool = ?", tool)
}

// ClaimsAwaited gives those with a day by which somebody waits for something, and those of
// which something was paid: a rest may be to be asked for.
func (r *Rx) ClaimsAwaited() ([]claims.Claim, error) {
	return many[claims.Claim](r, "opened, id", 0, "proof_due IS NOT NULL OR suit_due IS NOT NULL OR holdback_due IS NOT NULL OR answer_due IS NOT NULL OR id IN (SELECT claim FROM claim_facts WHERE amount IS NOT NULL)")
}

// FactsOf gives the dated facts of a claim, by day and then as they were entered.
func (r *Rx) FactsOf(claim string) ([]claims.Fact, error) {
	return many[claims.Fact](r, "day, entered, id", 0, "claim = ?", claim)
}

// ClaimLines gives what is asked for each tool of a claim.
func (r *Rx) ClaimLines(claim string) ([]claims.ClaimLine, error) {
	return many[claims.ClaimLine](r, "line, id", 0, "claim = ?", claim)
}

// PacketsOfLoss gives the packets of all claims on a loss, the oldest first.
func (r *Rx) PacketsOfLoss(loss string) ([]claims.Packet, error) {
	return many[claims.Packet](r, "created, id", 0, "claim IN (SELECT id FROM claims WHERE loss = ?)", loss)
}

// ClaimLineForChange gives what is asked for one tool of a claim, for an act that changes it.
func (tx *Tx) ClaimLineForChange(claim, tool string) (claims.ClaimLine, bool, error) {
	return changeWhere[claims.ClaimLine](tx, "claim = ? AND tool = ?", claim, tool)
}
