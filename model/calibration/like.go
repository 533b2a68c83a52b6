package calibration

// Observe counts one calibration of a tool like this one, as it was found: in
// tolerance where every reading was inside its limit, whatever the decision rule. One
// without readings as found says nothing of it and is not counted.
func (l *Like) Observe(j Judgement) {
	found := j.foundAll()
	if len(found) == 0 || j.BenchCheck {
		return
	}
	l.Calibrations++
	for _, p := range found {
		if !p.Within {
			return
		}
	}
	l.InTolerance++
}
