package model

import "pawl/model/calibration"

// compare says how a tool that measures stands by its calibrations.
func (d *directory) compare(id string) (c Compared, err error) {
	m, err := d.measuredTools(id)
	if err != nil {
		return c, err
	}
	f := m.facts(id, "")
	c.Trusted, c.Clears = trusted(f), f.MayClear() || m.onlyFell(id)
	if len(f.Calibrations) == 0 {
		return c, nil
	}
	newest := f.Calibrations[0]
	c.On, c.Due, c.Failed = newest.On, newest.NextDue, newest.Verdict == calibration.Failed
	c.InDate = c.Trusted && newest.Supports && newest.NextDue != "" && !m.today.After(newest.NextDue) && !m.clock.Doubtful
	return c, nil
}
