package wire

import (
	"pawl/model/calibration/intervals"
	"pawl/model/dates"
)

// IntervalAdvice is the advice on a tool's interval.
type IntervalAdvice struct {
	Number string `json:"number"`
	Kind   string `json:"kind"`
	intervals.Advice
	Cautions   []string      `json:"cautions"`
	ComputedAt dates.Instant `json:"computed_at"`
}
