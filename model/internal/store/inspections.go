package store

import "pawl/model/inspections"

// Inspections gives the inspections of tools, oldest first.
func (r *Rx) Inspections(tools ...string) ([]inspections.Inspection, error) {
	return many[inspections.Inspection](r, "on_day, entered, id", 0, "tool IN ?", tools)
}

// Plans gives what was decided on the checks of tools, oldest first.
func (r *Rx) Plans(tools ...string) ([]inspections.Plan, error) {
	return many[inspections.Plan](r, "since, id", 0, "tool IN ?", tools)
}
