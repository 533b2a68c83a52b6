package calibration

// due fills in the day that the interval runs from, the last one of it, and, where
// the tool passed, the day on which it is next due. A bench check moves no date. The
// interval runs from the first use where that is known to be later (ISO 6789-1:2017
// 5.3, from memory), else from the comparison. What a law or a contract allows runs from
// the comparison, whenever the tool was used first.
func (w work) due(j *Judgement) {
	if w.q.Months == 0 || w.r.BenchCheck {
		return
	}
	j.NextDueFrom = w.r.On
	if w.a.FirstUse.After(w.r.On) {
		j.NextDueFrom = w.a.FirstUse
	}
	j.IntervalEnds = j.NextDueFrom.AddMonths(w.q.Months)
	if last := w.r.On.AddMonths(w.q.MaximumMonths); w.q.MaximumMonths > 0 && j.IntervalEnds.After(last) {
		j.IntervalEnds = last
	}
	if j.Verdict == Passed {
		j.NextDue = j.IntervalEnds
	}
}
