package cli

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

var settingNames = []struct{ name, usage string }{
	{"name", "the shop's `NAME`"},
	{"zone", "its time `ZONE`, such as America/Chicago"},
	{"currency", "its `CURRENCY`, such as USD"},
	{"address", "`URL` that labels link to, such as https://tools.example"},
	{"paper", "`PAPER` for documents: letter or a4"},
	{"units", "`UNITS` that come first: us or metric"},
	{"default-limits", "± `PERCENT` that a job is taken to permit where nobody gave its limits, such as 4; empty for none"},
	{"lead-calibration", "show a tool calibration as due `DAYS` before its day"},
	{"lead-inspection", "an inspection `DAYS` before"},
	{"lead-return", "a return `DAYS` before"},
	{"lead-warranty", "the end of a warranty `DAYS` before"},
	{"long-out-days", "a tool that is out for more than `DAYS` is long out; 14, our choice, until you decide"},
	{"time-authority", "`URL` of the time-stamp authority (RFC 3161) that dates what is signed; empty for none"},
	{"time-authority-roots", "`FILE` with the certificates, in PEM, that the authority's must lead to; empty for none"},
	{"plain-http", "`yes` or no: whether a server may answer others than its own computer without a certificate"},
}

func (p *program) settingsCommand() *cli.Command {
	var flags []cli.Flag
	for _, n := range settingNames {
		flags = append(flags, value(n.name, n.usage))
	}
	return &cli.Command{
		Name: "settings", Usage: "show or change the shop's settings",
		Description: `pawl settings
pawl settings --name "Demo garage" --zone America/Chicago --address https://tools.example`,
		Flags:  flags,
		Action: action(p, parseSettings, runSettings),
	}
}

func parseSettings(c *cli.Context) (map[string]any, error) {
	changes := map[string]any{}
	for _, n := range settingNames {
		if c.IsSet(n.name) {
			changes[n.name] = c.String(n.name)
		}
	}
	if percent, given := changes["default-limits"]; given {
		delete(changes, "default-limits")
		changes["default_limits_percent"] = percent
	}
	for _, sort := range []string{"calibration", "inspection", "return", "warranty"} {
		name := "lead-" + sort
		if said, given := changes[name]; given {
			delete(changes, name)
			days, err := strconv.Atoi(fmt.Sprint(said))
			if err != nil {
				return nil, fault.New(fault.Malformed, "--%s is %q", name, said).WithHint("give a whole number of days, 0 to 366")
			}
			changes["lead_"+sort] = days
		}
	}
	if said, given := changes["long-out-days"]; given {
		delete(changes, "long-out-days")
		days, err := strconv.Atoi(fmt.Sprint(said))
		if err != nil {
			return nil, fault.New(fault.Malformed, "--long-out-days is %q", said).WithHint("give a whole number of days, 1 to 366")
		}
		changes["long_out_days"] = days
	}
	if url, given := changes["time-authority"]; given {
		delete(changes, "time-authority")
		changes["time_authority"] = url
	}
	if file, given := changes["time-authority-roots"]; given {
		delete(changes, "time-authority-roots")
		roots, err := rootsText(fmt.Sprint(file))
		if err != nil {
			return nil, err
		}
		changes["time_authority_roots"] = roots
	}
	if said, given := changes["plain-http"]; given {
		if said != "yes" && said != "no" {
			return nil, fault.New(fault.Malformed, "--plain-http is %q", said).WithHint("say yes or no")
		}
		delete(changes, "plain-http")
		changes["plain_http"] = said == "yes"
	}
	return changes, noOperands(c)
}

func runSettings(ctx context.Context, s *session, changes map[string]any) error {
	settings, etag, err := s.client.Settings(ctx)
	if err != nil {
		return err
	}
	before := settings
	if len(changes) > 0 {
		if settings, err = s.client.ChangeSettings(ctx, etag, changes); err != nil {
			return err
		}
	}
	if s.json {
		return s.object(settings)
	}
	if len(changes) > 0 {
		s.note(settingsChange(before, settings))
	}
	return s.record([]field{
		{"name", settings.Name}, {"zone", settings.Zone}, {"currency", settings.Currency},
		{"address", settings.Address}, {"paper", settings.Paper}, {"units", settings.Units},
		{"default-limits", settings.DefaultLimitsPercent},
		{"lead-calibration", strconv.FormatInt(settings.Lead.Calibration, 10)}, {"lead-inspection", strconv.FormatInt(settings.Lead.Inspection, 10)},
		{"lead-return", strconv.FormatInt(settings.Lead.Return, 10)}, {"lead-warranty", strconv.FormatInt(settings.Lead.Warranty, 10)},
		{"long-out-days", strconv.FormatInt(settings.LongOutDays, 10)},
		{"time-authority", settings.TimeAuthority}, {"time-authority-roots", certificates(settings.TimeAuthorityRoots)},
		{"plain-http", map[bool]string{true: "yes", false: "no"}[settings.PlainHTTP]},
	})
}

// rootsText reads certificates from a file; no name means none.
func rootsText(file string) (string, error) {
	if file == "" {
		return "", nil
	}
	return readText(file, maxCheckpoint)
}

// certificates says how many there are in PEM.
func certificates(pem string) string {
	n := strings.Count(pem, "-----BEGIN CERTIFICATE-----")
	if n == 0 {
		return ""
	}
	return count(int64(n), "certificate")
}

func settingsChange(before, after wire.Settings) string {
	if before == after {
		return "the settings are so already: nothing changed"
	}
	return "the settings are changed"
}
