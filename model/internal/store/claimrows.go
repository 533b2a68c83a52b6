package store

import (
	"pawl/model/claims"
)

// Loss gives one loss.
func (r *Rx) Loss(id string) (claims.Loss, bool, error) { return one[claims.Loss](r, "id = ?", id) }

// LossLines gives the lines of losses, in their order.
func (r *Rx) LossLines(losses ...string) ([]claims.LossLine, error) {
	return many[claims.LossLine](r, "loss, line, id", 0, "loss IN ?", losses)
}

// Claim gives one claim.
func (r *Rx) Claim(id string) (claims.Claim, bool, error) { return one[claims.Claim](r, "id = ?", id) }

// FactsOf gives the dated facts of a claim.
func (r *Rx) FactsOf(claim string) ([]claims.Fact, error) {
	return many[claims.Fact](r, "day, entered, id", 0, "claim = ?", claim)
}

// ClaimsOfLoss gives the claims made for a loss.
func (r *Rx) ClaimsOfLoss(loss string) ([]claims.Claim, error) {
	return many[claims.Claim](r, "opened, id", 0, "loss = ?", loss)
}
