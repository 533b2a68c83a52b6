package settings

import "pawl/model/fault"

// Lead says how many days before its day each sort of what is due is shown; nil is
// the usual time.
type Lead struct {
	Calibration, Inspection, Return, Warranty *int64
}

// The usual times, in days.
const (
	leadCalibration = 30
	leadInspection  = 30
	leadReturn      = 1
	leadWarranty    = 30
	mostLead        = 366
)

// Days gives the times with the usual ones where nothing was decided.
func (l Lead) Days() (calibration, inspection, back, warranty int64) {
	or := func(p *int64, usual int64) int64 {
		if p == nil {
			return usual
		}
		return *p
	}
	return or(l.Calibration, leadCalibration), or(l.Inspection, leadInspection), or(l.Return, leadReturn), or(l.Warranty, leadWarranty)
}

// LeadChange holds new times in days, 0 to 366; nil leaves one as it is.
type LeadChange struct {
	Calibration *int64 `json:"lead_calibration,omitempty"`
	Inspection  *int64 `json:"lead_inspection,omitempty"`
	Return      *int64 `json:"lead_return,omitempty"`
	Warranty    *int64 `json:"lead_warranty,omitempty"`
}

func (c LeadChange) over(l Lead, bad *fault.Problems) Lead {
	for _, one := range []struct {
		at  string
		new *int64
		out **int64
	}{
		{"#/lead_calibration", c.Calibration, &l.Calibration}, {"#/lead_inspection", c.Inspection, &l.Inspection},
		{"#/lead_return", c.Return, &l.Return}, {"#/lead_warranty", c.Warranty, &l.Warranty},
	} {
		switch {
		case one.new == nil:
		case *one.new < 0 || *one.new > mostLead:
			bad.Add(one.at, "%d days; give 0 to %d", *one.new, mostLead)
		default:
			*one.out = one.new
		}
	}
	return l
}
