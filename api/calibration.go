package api

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/units"
)

// askParameters are those of the question "Can I use it for …?".
var askParameters = []string{"target", "limits", "direction", "method", "crowfoot", "angle", "adapter", "adapter_factor", "adapter_uncertainty",
	"adapter_due", "adapter_number", "angle_device", "not_safety", "setting_unchanged", "zero_and_battery", "length_in_wrench", "unit_confirmed", "ambient"}

func (s *service) calibrationRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/presets", handle: s.presets},
		{method: http.MethodGet, path: Prefix + "/tools/:number/calibrations", query: []string{"format"}, offers: []string{jsonType, csvType}, handle: s.calibrations},
		done("calibrate", func(ctx context.Context, by model.By, number string, in wire.Calibrate) (any, error) {
			v, err := s.shop.Calibrate(ctx, by, number, calibrateOf(in))
			return viewCalibrated(v), err
		}),
		done("bench", func(ctx context.Context, by model.By, number string, in wire.Bench) (any, error) {
			v, err := s.shop.Bench(ctx, by, number, model.Bench(in))
			return viewCalibrated(v), err
		}),
		withdrawn("calibrate/withdraw", s.shop.WithdrawCalibration, viewCalibrated),
		withdrawn("bench/withdraw", s.shop.WithdrawBench, viewCalibrated),
		withdrawn("tighten/withdraw", s.shop.WithdrawTightening, viewUse),
		withdrawn("measure/withdraw", s.shop.WithdrawMeasurement, viewUse),
		{method: http.MethodGet, path: Prefix + "/ready", query: askParameters, handle: s.readyTools},
		{method: http.MethodGet, path: Prefix + "/tools/:number/ready", query: askParameters, handle: s.readyFor},
		done("tighten", func(ctx context.Context, by model.By, number string, in wire.Tighten) (any, error) {
			v, err := s.shop.Tighten(ctx, by, number, model.Use{Ask: model.Ask(in.Ask), Job: in.Job, Happened: in.Happened,
				NotSafetyWhy: in.NotSafetyWhy, Redoes: in.Redoes, Name: in.Fastener, Count: in.Count})
			return viewUse(v), err
		}),
		done("measure", func(ctx context.Context, by model.By, number string, in wire.Measure) (any, error) {
			v, err := s.shop.Measure(ctx, by, number, model.Use{Ask: model.Ask(in.Ask), Job: in.Job, Happened: in.Happened,
				NotSafetyWhy: in.NotSafetyWhy, Redoes: in.Redoes, Name: in.What})
			return viewUse(v), err
		}),
		{method: http.MethodPost, path: Prefix + "/uses/:id/sign", handle: s.signUse},
		{method: http.MethodGet, path: Prefix + "/jobs/:number/uses", query: []string{"format"}, offers: []string{jsonType, csvType}, handle: s.usesOn},
		{method: http.MethodGet, path: Prefix + "/fasteners", handle: s.fasteners},
	}
}

// done is the route of something recorded of one tool, which answers with its record.
func done[T any](verb string, do func(context.Context, model.By, string, T) (any, error)) route {
	return route{method: http.MethodPost, path: Prefix + "/tools/:number/" + verb, handle: func(c *gin.Context) (answer, error) {
		in, err := bind[T](c, false)
		if err != nil {
			return answer{}, err
		}
		v, err := do(c.Request.Context(), by(c), c.Param("number"), in)
		return ok(v, 0), err
	}}
}

// withdrawn is the route by which an entry is taken back that was made by mistake.
func withdrawn[V, W any](verb string, do func(ctx context.Context, by model.By, number, id, why string) (V, error), view func(V) W) route {
	return done(verb, func(ctx context.Context, by model.By, number string, in wire.Withdraw) (any, error) {
		v, err := do(ctx, by, number, in.ID, in.Why)
		return view(v), err
	})
}

func calibrateOf(in wire.Calibrate) model.Calibrate {
	out := model.Calibrate{
		On: in.On, Happened: in.Happened, By: in.By, CertificateNumber: in.CertificateNumber, Standard: in.Standard,
		StandardUncertainty: in.StandardUncertainty, StandardRange: in.StandardRange, StandardBias: in.StandardBias,
		StandardCalibrated: in.StandardCalibrated, StandardDue: in.StandardDue, Direction: in.Direction, AsFound: in.AsFound, AsLeft: in.AsLeft,
		File: in.File, Percents: in.Percents, Adjusted: in.Adjusted, OnlyUncertainty: in.OnlyUncertainty, Uncertainty: in.Uncertainty, Temperature: in.Temperature,
		Humidity: in.Humidity, Claim: in.Claim, DeclaredClass: in.DeclaredClass, DeclaredRange: in.DeclaredRange, DeclaredLimits: in.DeclaredLimits,
		DeclaredDirections: in.DeclaredDirections, DeclaredPoints: in.DeclaredPoints, Evidence: in.Evidence,
	}
	if q := in.Requirement; q != nil {
		out.Requirement = &model.Requirement{
			Preset: q.Preset, Unit: q.Unit, Range: q.Range, Graduation: q.Graduation, SecondScale: q.SecondScale, Resolution: q.Resolution,
			GripToDrive: q.GripToDrive, Directions: q.Directions, Limit: q.Limit, LimitFrom: q.LimitFrom, Reliability: q.Reliability, Rule: q.Rule,
			AmbientLow: q.AmbientLow, AmbientHigh: q.AmbientHigh, IntervalFrom: q.IntervalFrom, Months: q.Months, Cycles: q.Cycles,
			Maximum: q.Maximum, MaximumWhy: q.MaximumWhy,
		}
	}
	return out
}

func viewCalibrated(v model.CalibrationView) wire.Calibrated {
	return wire.Calibrated{Number: v.Number.String(), Kind: v.Kind, Requirement: v.Requirement, Shown: v.Calibration,
		DoNotUse: null(v.DoNotUse), Advice: words(v.Advice), Cautions: words(v.Cautions)}
}

func (s *service) calibrations(c *gin.Context) (answer, error) {
	return listAs(c, "calibrations", map[string]writesList{csvType: s.shop.CalibrationsCSV}, "use json or csv", func() (answer, error) {
		v, err := s.shop.Calibrations(c.Request.Context(), by(c), c.Param("number"))
		return ok(wire.Calibrations{Number: v.Number.String(), Kind: v.Kind, Requirement: v.Requirement, Calibrations: v.Calibrations, Cautions: words(v.Cautions)}, 0), err
	})
}

// ask reads the question from the query.
func ask(c *gin.Context) (model.Ask, error) {
	q := askedOf(c)
	in := model.Ask{
		Target: q.text("target"), Limits: q.text("limits"), Direction: q.text("direction"), Method: q.text("method"), Crowfoot: q.text("crowfoot"),
		Angle: q.text("angle"), Adapter: q.text("adapter"), AdapterFactor: q.text("adapter_factor"), AdapterUncertainty: q.text("adapter_uncertainty"),
		AdapterDue: q.text("adapter_due"), AdapterNumber: q.text("adapter_number"), AngleDevice: q.text("angle_device"),
		SettingUnchanged: q.text("setting_unchanged"), ZeroAndBattery: q.text("zero_and_battery"), LengthInWrench: q.text("length_in_wrench"),
		UnitConfirmed: q.text("unit_confirmed"), Ambient: q.text("ambient"),
	}
	if marked := q.flag("not_safety"); marked != nil {
		in.NotSafety = *marked
	}
	return in, q.bad.Err()
}

func (s *service) readyFor(c *gin.Context) (answer, error) {
	in, err := ask(c)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.ReadyFor(c.Request.Context(), by(c), c.Param("number"), in)
	return ok(wire.Ready{Number: v.Number, Kind: v.Kind, Holder: null(v.Holder), ShownAnswer: v.ShownAnswer,
		Alternatives: list(v.Alternatives, viewAlternative), ComputedAt: v.ComputedAt}, 0), err
}

func (s *service) readyTools(c *gin.Context) (answer, error) {
	in, err := ask(c)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.ReadyTools(c.Request.Context(), by(c), in)
	return ok(wire.Ranked{Verdict: string(v.Verdict), Tools: list(v.Tools, viewAlternative), Cautions: words(v.Cautions), ComputedAt: v.ComputedAt,
		DefaultLimitsPercent: null(v.ByDefault), LeftOut: v.LeftOut}, 0), err
}

func viewAlternative(v model.AlternativeView) wire.Alternative {
	return wire.Alternative{Number: v.Number, Kind: v.Kind, Place: null(v.Place), Verdict: string(v.Verdict), Available: v.Available,
		Holder: null(v.Holder), Setting: v.Setting, InsideProbability: v.InsideProbability, Reason: v.Reason, Code: string(v.Code)}
}

func viewUse(v model.UseView) wire.Use {
	return wire.Use{
		ID: v.ID, Number: v.Number, Kind: v.Kind, Job: v.Job, What: v.What, Name: v.Name, Count: v.Count, Happened: v.Happened, Entered: v.Entered,
		Person: null(v.Person), Target: v.Target, Limits: v.Limits, DefaultLimits: v.DefaultLimits, Direction: v.Direction, Setting: v.Setting, Adapter: v.Adapter,
		Verdict: string(v.Verdict), InsideProbability: v.InsideProbability, Reasons: words(v.Reasons), Calibration: null(v.Calibration),
		Outcome: string(v.Outcome), NotSafety: v.NotSafety, NotSafetyWhy: v.NotSafetyWhy, Unconfirmed: v.Unconfirmed, Holds: v.Holds, Settle: v.Settle,
		RedoneBy: null(v.RedoneBy), SignedBy: null(v.SignedBy), SignedWhy: v.SignedWhy, SignedAt: v.SignedAt,
		Withdrawn: v.Withdrawn, WithdrawnBy: null(v.WithdrawnBy), Why: v.Why, Words: v.Words, Cautions: words(v.Cautions),
		NewJob: viewOpenedJob(v.NewJob),
	}
}

func (s *service) signUse(c *gin.Context) (answer, error) {
	in, err := bind[wire.Sign](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.SignUse(c.Request.Context(), by(c), c.Param("id"), in.Why)
	return ok(viewUse(v), 0), err
}

func (s *service) usesOn(c *gin.Context) (answer, error) {
	return listAs(c, "uses", map[string]writesList{csvType: s.shop.UsesCSV}, "use json or csv", func() (answer, error) {
		all, err := s.shop.UsesOn(c.Request.Context(), by(c), c.Param("number"))
		return ok(wire.Uses{Uses: list(all, viewUse)}, 0), err
	})
}

func (s *service) fasteners(c *gin.Context) (answer, error) {
	all, err := s.shop.Fasteners(c.Request.Context(), by(c))
	return ok(wire.Fasteners{Fasteners: words(all)}, 0), err
}

func (s *service) presets(*gin.Context) (answer, error) {
	return ok(wire.Presets{Presets: list(calibration.Presets(), viewPreset)}, 0), nil
}

func viewPreset(p calibration.Preset) wire.Preset {
	return wire.Preset{
		Name: p.Name, Title: p.Title, Instrument: string(p.Instrument), Units: list(p.Units, func(u units.Unit) string { return string(u) }),
		Limits: list(p.Limits, func(c calibration.LimitChoice) wire.PresetLimit {
			return wire.PresetLimit{UpTo: c.UpTo, Limit: c.Limit, Source: viewSource(c.Source)}
		}),
		Graded: p.Graded, Ask: p.Ask, Months: p.Months, Cycles: p.Cycles, Interval: viewSource(p.Interval),
	}
}

func viewSource(s calibration.Source) string {
	if s.Where == "" {
		return string(s.Standing)
	}
	return string(s.Standing) + ": " + s.Where
}
