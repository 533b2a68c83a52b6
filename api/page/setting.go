package page

import (
	"io"
	"net/url"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/settings"
)

func (p *Pages) settingRoutes() []Route {
	return []Route{
		get("/settings", p.settingsPage),
		post("/settings", p.changeSettings),
		post("/settings/authority", p.changeRoots),
	}
}

// deciding is what the page of settings shows.
type deciding struct {
	settings.Settings
	Leads                bool // the asker may change them
	Papers, Systems, Way []Option
	Certificates         int // of the time-stamp authority
}

func (p *Pages) deciding(a *Ask, now settings.Settings) deciding {
	lang := a.language()
	return deciding{
		Settings: now, Leads: a.leads(), Certificates: strings.Count(now.TimeAuthorityRoots, "-----BEGIN CERTIFICATE-----"),
		Papers:  p.Options(lang, "settings.paper.", string(settings.Letter), string(settings.A4)),
		Systems: p.Options(lang, "settings.units.", string(settings.US), string(settings.Metric)),
		Way:     p.Options(lang, "settings.plain.", "no", "yes"),
	}
}

// settingValues are the settings as the form has them.
func settingValues(s settings.Settings) url.Values {
	days := func(n int64) []string { return []string{strconv.FormatInt(n, 10)} }
	calibration, inspection, back, warranty := s.Lead.Days()
	return url.Values{"lead_calibration": days(calibration), "lead_inspection": days(inspection), "lead_return": days(back), "lead_warranty": days(warranty), "long_out_days": days(s.LongOut()),
		"name": {s.Name}, "zone": {s.Zone}, "currency": {s.Currency}, "address": {s.Address}, "paper": {string(s.Paper)},
		"units": {string(s.Units)}, "default_limits_percent": {s.DefaultLimitsPercent}, "time_authority": {s.TimeAuthority}, "plain_http": {map[bool]string{true: "yes", false: "no"}[s.PlainHTTP]}}
}

func (p *Pages) settingsPage(a *Ask) (Reply, error) {
	now, err := p.shop.Settings(a.R.Context())
	values := settingValues(now)
	values.Set("rev", strconv.FormatInt(now.Rev, 10))
	return Show("settings", p.deciding(a, now)).WithForm(values), err
}

func (p *Pages) changeSettings(a *Ask) (Reply, error) {
	text := func(name string) *string {
		if !a.Has(name) {
			return nil
		}
		s := a.Value(name)
		return &s
	}
	c := settings.Change{Name: text("name"), Zone: text("zone"), Currency: text("currency"), Address: text("address"), Paper: text("paper"), Units: text("units"),
		DefaultLimitsPercent: text("default_limits_percent"), TimeAuthority: text("time_authority")}
	if a.Has("plain_http") {
		yes := a.Value("plain_http") == "yes"
		c.PlainHTTP = &yes
	}
	before, err := p.shop.Settings(a.R.Context())
	if err != nil {
		return Reply{}, err
	}
	var bad fault.Problems
	c.LeadChange = a.leadChange(&bad)
	if text := a.Value("long_out_days"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			bad.Add("#/long_out_days", "%q is not a number of days", text)
		}
		c.LongOutDays = &n
	}
	if err := bad.Err(); err != nil {
		return a.Again("settings", p.deciding(a, before), err), nil
	}
	now, err := p.shop.ChangeSettings(a.R.Context(), a.By, a.rev(), c)
	if err == nil {
		told := []string{p.say(a, "settings.kept")}
		if now.PlainHTTP != before.PlainHTTP {
			told = append(told, p.say(a, "settings.next-start"))
		}
		return Go("/settings", told...), nil
	}
	if fault.Is(err, fault.Stale) {
		err = p.overtaken(a, settingValues(before), before.Rev, p.say(a, "settings.stale"))
	}
	return a.Again("settings", p.deciding(a, before), err), nil
}

// changeRoots keeps the certificates that the time-stamp authority is checked by, or drops
// them.
func (p *Pages) changeRoots(a *Ask) (Reply, error) {
	before, err := p.shop.Settings(a.R.Context())
	if err != nil {
		return Reply{}, err
	}
	pem := ""
	if a.Value("do") != "drop" {
		pem, err = a.pem(p)
	}
	if err == nil {
		_, err = p.shop.ChangeSettings(a.R.Context(), a.By, a.rev(), settings.Change{TimeAuthorityRoots: &pem})
	}
	switch {
	case err == nil && pem == "":
		return Go("/settings", p.say(a, "settings.roots-dropped")), nil
	case err == nil:
		return Go("/settings", p.say(a, "settings.kept")), nil
	case fault.Is(err, fault.Stale):
		err = p.overtaken(a, settingValues(before), before.Rev, p.say(a, "settings.stale"))
	}
	r := a.Again("settings", p.deciding(a, before), err)
	for name, value := range settingValues(before) { // the form above stays as it is
		if !r.form.Values.Has(name) {
			r.form.Values[name] = value
		}
	}
	return r, nil
}

// maxPEM is the most bytes of certificates that are read; the settings hold fewer.
const maxPEM = 1 << 20

// pem reads the file of certificates that was chosen.
func (a *Ask) pem(p *Pages) (string, error) {
	if !a.HasFile("roots") {
		return "", fault.At("#/time_authority_roots", "%s", p.say(a, "settings.roots-choose"))
	}
	f, err := a.files["roots"][0].Open()
	if err != nil {
		return "", err
	}
	defer f.Close()
	raw, err := io.ReadAll(io.LimitReader(f, maxPEM))
	return string(raw), err
}

// leadChange reads the lead times; an empty one stays.
func (a *Ask) leadChange(bad *fault.Problems) (c settings.LeadChange) {
	for name, out := range map[string]**int64{"lead_calibration": &c.Calibration, "lead_inspection": &c.Inspection, "lead_return": &c.Return, "lead_warranty": &c.Warranty} {
		if a.Value(name) == "" {
			continue
		}
		n, err := strconv.ParseInt(a.Value(name), 10, 64)
		if err != nil {
			bad.Add("#/"+name, "%q is not a number of days", a.Value(name))
			continue
		}
		*out = &n
	}
	return c
}
