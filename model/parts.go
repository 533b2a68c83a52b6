package model

import (
	"pawl/model/internal/store"
	"pawl/model/register"
)

// registerParts keeps the tools that came with the hand's, each with a number
// of its own and the papers that speak of everything bought together.
func (s *Shop) registerParts(h *hand, parts []register.Tool) (err error) {
	if len(parts) == 0 {
		return nil
	}
	papers, err := h.tx.Evidence(h.tool.ID)
	if err != nil {
		return err
	}
	for _, p := range parts {
		if err := serialIsFree(&h.tx.Rx, p); err != nil {
			return err
		}
		if p.ID, err = h.tx.NewID('T'); err != nil {
			return err
		}
		if p.Number, err = numberFor(h.tx, "", p.ID); err != nil {
			return err
		}
		if err := store.Put(h.tx, &p); err != nil {
			return err
		}
		if err := h.share(papers, p); err != nil {
			return err
		}
	}
	return nil
}
