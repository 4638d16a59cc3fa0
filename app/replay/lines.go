package replay

import (
	"time"

	"weighbeam/home"
)

// The lines of a replay as JSON. Times are RFC 3339 in UTC.

type visitJSON struct {
	Event      string     `json:"event"`
	Source     string     `json:"source"`
	Start      time.Time  `json:"start"`
	End        time.Time  `json:"end"`
	Kind       home.Event `json:"kind,omitempty"` // of an event that is no weighing
	MassKg     *float64   `json:"mass_kg,omitempty"`
	SDKg       *float64   `json:"sd_kg,omitempty"`
	LeftG      *float64   `json:"left_g,omitempty"`
	LeftSDG    *float64   `json:"left_sd_g,omitempty"`
	Quality    float64    `json:"quality"`
	Reasons    []string   `json:"reasons,omitempty"`
	Cat        string     `json:"cat"`
	Confidence float64    `json:"confidence"`
	Whose      home.Whose `json:"whose,omitempty"`
	Shares     []share    `json:"shares,omitempty"` // where it may be of several cats
}

type share struct {
	Cat string  `json:"cat"`
	P   float64 `json:"p"`
}

func visitLine(v home.Visit) visitJSON {
	line := visitJSON{Event: "visit", Source: v.Source, Start: v.Start.UTC(), End: v.End.UTC(),
		Quality: v.Quality, Reasons: v.Reasons, Cat: v.Cat, Confidence: v.Confidence, Whose: v.Whose}
	if v.Cat == "" || len(v.Shares) > 1 {
		for _, s := range v.Shares {
			line.Shares = append(line.Shares, share(s))
		}
	}
	if v.Event == home.CatVisit {
		line.MassKg, line.SDKg = &v.MassKg, &v.SDKg
	} else {
		line.Event, line.Kind = "scale", v.Event
	}
	if v.HasLeft {
		line.LeftG, line.LeftSDG = &v.LeftG, &v.LeftSDG
	}
	return line
}

type findingJSON struct {
	Event         string       `json:"event"`
	Cat           string       `json:"cat"`
	Source        string       `json:"source"`
	Sign          home.Sign    `json:"sign"`
	Urgency       home.Urgency `json:"urgency"`
	Raised        time.Time    `json:"raised"`
	At            time.Time    `json:"at"` // when this line became known: raised, or when it worsened
	Onset         *time.Time   `json:"onset,omitempty"`
	OnsetInterval []time.Time  `json:"onset_interval,omitempty"`
	ChangePct     *float64     `json:"change_pct,omitempty"`
	Rate          *float64     `json:"rate_pct_per_week,omitempty"`
	RateInterval  []float64    `json:"rate_pct_per_week_interval,omitempty"`
	Breaths       *float64     `json:"rate_per_min_per_week,omitempty"`
	BreathsRange  []float64    `json:"rate_per_min_per_week_interval,omitempty"`
	Confidence    float64      `json:"confidence,omitempty"`
	Data          int          `json:"data,omitempty"`
	Warnings      []string     `json:"warnings,omitempty"`
	Text          string       `json:"text"`
}

func findingLine(event string, t home.Transition) findingJSON {
	f := t.Finding
	line := findingJSON{Event: event, Cat: f.Cat, Source: f.Source, Sign: f.Sign, Urgency: f.Urgency,
		Raised: f.Raised.UTC(), At: t.At.UTC(), Confidence: f.Confidence, Data: f.Data, Warnings: f.Warnings, Text: f.Text}
	if !f.Onset.IsZero() {
		onset := f.Onset.UTC()
		line.Onset, line.OnsetInterval = &onset, []time.Time{f.OnsetLo.UTC(), f.OnsetHi.UTC()}
	}
	if f.ChangePct != 0 { // not each sign is a change
		line.ChangePct = &f.ChangePct
	}
	switch f.RateUnit {
	case "":
	case "%/week":
		line.Rate, line.RateInterval = &f.Rate, []float64{f.RateLo, f.RateHi}
	default:
		line.Breaths, line.BreathsRange = &f.Rate, []float64{f.RateLo, f.RateHi}
	}
	return line
}

type closedLine struct {
	Event  string    `json:"event"`
	Cat    string    `json:"cat"`
	Source string    `json:"source"`
	Sign   home.Sign `json:"sign"`
	Closed time.Time `json:"closed"`
	Reason string    `json:"reason"`
}
