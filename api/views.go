package api

import (
	"net/url"
	"strings"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/jobs"
	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
)

// at is the path, below Prefix, of one thing of a noun.
func at(noun, id string) string { return "/" + noun + "/" + url.PathEscape(id) }

func viewWho(a people.Actor) wire.Who {
	w := wire.Who{Role: string(a.Role), Via: string(a.Via), Device: null(a.Device)}
	if a.Person != "" {
		w.Person = null(a.Name)
	}
	return w
}

func viewSettings(s settings.Settings) wire.Settings {
	return wire.Settings{
		Rev: s.Rev, Name: s.Name, Zone: s.Zone, Currency: s.Currency, Address: s.Address,
		Paper: string(s.Paper), Units: string(s.Units), DefaultLimitsPercent: s.DefaultLimitsPercent, PlainHTTP: s.PlainHTTP, Lead: viewLead(s.Lead),
		LongOutDays: s.LongOut(), TimeAuthority: s.TimeAuthority, TimeAuthorityRoots: s.TimeAuthorityRoots,
	}
}

// symbol is what a printed code holds, whether or not it is kept with its prefix.
func symbol(prefix, code string) string {
	if code == "" || strings.HasPrefix(code, prefix) {
		return code
	}
	return prefix + code
}

func viewPerson(p people.Person) wire.Person {
	return wire.Person{ID: p.ID, Rev: p.Rev, Name: p.Name, Role: string(p.Role), Badge: symbol("B/", p.Badge), Shares: p.Shares, Left: p.Left}
}

func viewPlace(p model.PlaceView) wire.Place {
	return wire.Place{ID: p.ID, Path: p.Path, Code: symbol("P/", p.Code), Person: null(p.Whose)}
}

func viewJob(j jobs.Job) wire.Job {
	return wire.Job{
		ID: j.ID, Rev: j.Rev, Number: j.Number, Vehicle: j.Vehicle, VIN: j.VIN, Safety: string(j.Safety),
		Opened: j.Opened, Closed: j.Closed,
	}
}

func viewToken(t model.TokenView) wire.Token {
	return wire.Token{
		ID: t.ID, Name: t.Name, Role: string(t.Role), For: null(t.ForName), Revoked: t.Revoked, Secret: t.Secret,
	}
}

func viewTool(v model.ToolView) wire.Tool {
	t := v.Tool
	return wire.Tool{
		ID: t.ID, Rev: t.Rev, Number: t.Number.String(), Numbers: list(v.Numbers, numbers.Number.String),
		Kind: t.Kind, Maker: t.Maker, Model: t.Model, Owner: v.Owner,
		Serial:  wire.Serial{AsRead: t.Serial, Key: t.SerialKey, Lot: t.Lot, Why: string(t.NoSerial)},
		Custody: viewCustody(v.Custody), DoNotUse: viewDoNotUse(v.Wrongs), LabelWanted: labelWanted(v.Wrongs),
		Missing: append(register.Pieces{}, v.Missing...), Condition: v.Condition,
		Place: null(v.Place), Usage: string(t.Usage), Notes: t.Notes, Pieces: append(register.Pieces{}, t.Pieces...),
		Purchase: viewPurchase(v), Warranty: viewWarranty(t.Purchase),
		Markings: list(v.Markings, viewMarking), Evidence: list(v.Evidence, viewEvidence),
		Created: t.Created, Gone: t.Gone, GoneWhy: t.GoneWhy, GoneOn: t.GoneOn, GoneNote: t.GoneNote,
		Outside: viewOutside(t.Outside), CameWith: numberOrNone(v.CameWith), With: list(v.With, viewPart),
		Exchanged: wire.Exchanged{For: numberOrNone(v.ExchangedFor), From: numberOrNone(v.ExchangedFrom)},
		Origin:    null(t.Origin), EarlierNumbers: words(t.EarlierNumbers), Advice: words(v.Advice),
		Now: now(v), Loss: viewToolLoss(v.Loss),
	}
}

func viewToolLoss(l *model.ToolLoss) *wire.ToolLoss {
	if l == nil {
		return nil
	}
	return &wire.ToolLoss{ID: l.Loss, Line: l.Line, State: string(l.Stands), AfterLoss: l.AfterLoss}
}

// now says where a tool is, in words.
func now(v model.ToolView) string {
	if v.Tool.Gone != 0 {
		return "gone: " + v.Tool.GoneWhy
	}
	return v.Custody.Words()
}

// viewPurchase is null to those who may not see it.
func viewPurchase(v model.ToolView) *wire.Purchase {
	if !v.MoneyShown {
		return nil
	}
	p := v.Tool.Purchase
	return &wire.Purchase{
		Date: p.Bought, As: string(p.BoughtAs), Price: viewMoney(p, p.Price), Tax: viewMoney(p, p.Tax), Seller: p.Seller,
		Terms: string(p.Terms), Owed: viewMoney(p, p.Owed), OwedTo: p.OwedTo, OwedOn: p.OwedOn,
	}
}

func viewMoney(p register.Purchase, minor *int64) *wire.Money {
	m := p.Money(minor)
	if m == nil {
		return nil
	}
	return &wire.Money{Minor: m.Minor, Currency: m.Currency}
}

// viewWarranty is null where none is recorded, which is not the same as none.
func viewWarranty(p register.Purchase) *wire.Warranty {
	if p.WarrantyMonths == 0 && p.WarrantyFrom == "" {
		return nil
	}
	return &wire.Warranty{Months: p.WarrantyMonths, From: p.WarrantyStart(), Through: p.WarrantyThrough()}
}

func viewCustody(v model.CustodyView) wire.Custody {
	return wire.Custody{
		State: string(v.State), Person: null(v.Person), Job: null(v.Job), To: null(v.To), For: null(string(v.Purpose)),
		Since: v.Since, Due: v.Due,
	}
}

func viewDoNotUse(open []custody.Wrong) *wire.DoNotUse {
	w, out := custody.DoNotUse(open)
	if !out {
		return nil
	}
	return &wire.DoNotUse{Reason: custody.Reasons(open), Note: w.Note, Since: w.At, Calibration: null(w.Calibration)}
}

func labelWanted(open []custody.Wrong) bool {
	for _, w := range open {
		if w.What == custody.LabelGone && w.Cleared == 0 {
			return true
		}
	}
	return false
}

func viewMarking(m markings.Marking) wire.Marking {
	return wire.Marking{ID: m.ID, Method: string(m.Method), Protection: string(m.Protection), Where: m.Spot, Since: m.Since}
}

func viewEvidence(r evidence.Record) wire.Evidence {
	return wire.Evidence{
		ID: r.ID, SHA256: r.SHA256, Kind: string(r.Kind), MediaType: r.MediaType, Bytes: r.Bytes, Name: r.Name,
		ReceivedAt: r.ReceivedAt, ClaimedAt: null(r.ClaimedAt), Place: null(r.ClaimedPlace), Device: r.Device,
		Differs: evidence.Suspicious(r.ClaimedAt, r.ReceivedAt),
	}
}

func viewToolRow(r model.ToolRow) wire.ToolRow {
	return wire.ToolRow{
		ID: r.ID, Number: r.Number.String(), Kind: r.Kind, Maker: r.Maker, Model: r.Model, Serial: r.Serial,
		Owner: r.Owner, Place: null(r.Place), State: string(r.State), Person: null(r.Person), DoNotUse: null(r.DoNotUse),
		GoneWhy: null(r.GoneWhy), Missing: append(register.Pieces{}, r.Missing...),
	}
}

func viewLine(l model.LineView) wire.Line {
	return wire.Line{
		Seq: l.Seq, At: dates.Instant(l.At), Actor: l.ActorName, Verb: l.Verb, Noun: l.Noun, ID: l.ID, Rev: l.Rev,
		After: l.After,
	}
}

func viewDone(d model.Done) wire.Done {
	return wire.Done{
		ID: d.Tool, Number: d.Number.String(), Kind: d.Kind, Maker: d.Maker, Model: d.Model, Owner: d.Owner, Missing: d.Missing, Done: d.Verb, Custody: viewCustody(d.Custody),
		DoNotUse: viewDoNotUse(d.Wrongs), Cleared: d.Cleared, GoneWhy: d.GoneWhy, Advice: d.Advice, Question: d.Question,
		NewJob: viewOpenedJob(d.NewJob),
	}
}

func viewOpenedJob(j *model.OpenedJob) *wire.OpenedJob {
	if j == nil {
		return nil
	}
	return &wire.OpenedJob{Number: j.Number, Like: words(j.Like)}
}

// whole is the JSON of a figure that is not known to a fraction.
func whole(f *float64) *int64 {
	if f == nil {
		return nil
	}
	n := int64(*f)
	return &n
}

func viewOriginal(o model.Original) wire.Original {
	return wire.Original{
		SHA256: o.SHA256, Bytes: o.Bytes, MediaType: o.Type, Width: o.Width, Height: o.Height,
		ClaimedAt: null(o.ClaimedAt), Place: null(o.Place), Note: o.Note, Sharpness: whole(o.Sharpness), Question: o.Question,
	}
}

func viewCheckpoint(p model.DatedCheckpoint) wire.Checkpoint {
	w := wire.Checkpoint{Size: p.Size, Note: p.Note, Key: p.Key, Fingerprint: p.Fingerprint, NoTimeStamp: p.TimeStamp.Why}
	if p.TimeStamp.Answer != nil {
		w.TimeStamp = &wire.TimeStamp{At: p.TimeStamp.At, Answer: p.TimeStamp.Answer}
	}
	return w
}

func viewVerified(v model.Verified) wire.Verified {
	return wire.Verified{
		OK: len(v.Problems) == 0, Lines: v.Lines, Records: v.Records, Originals: v.Originals, Checkpoints: v.Checkpoints,
		Withheld: v.Withheld, Rolls: v.Rolls, Size: v.Size, Root: v.Root, Problems: words(v.Problems), Said: words(v.Said),
	}
}

func viewClock(v model.ClockView) wire.Clock {
	return wire.Clock{Now: v.Now, Doubtful: v.Doubtful, Latest: v.Latest}
}
