package detect

import (
	"time"

	"weighbeam/home"
)

// temperature finds a body temperature out of range. Healthy indoor cats have 36.7
// to 38.9 Celsius (Levy et al. 2015, n = 200, rectal); the lines for a call are 37.2
// and 39.4 (99 and 103 F, popular veterinary advice, the careful ones), and an
// unwell cat under 37.2 or over 40 cannot wait (triage lists).
type temperature struct {
	unwell time.Time
	out    home.Reading // newest out of range
	open   bool
}

const (
	coldLine, warmLine, hotLine = 37.2, 39.4, 40.0 // Celsius
)

func newTemperature() *temperature { return &temperature{} }

func (c *temperature) kind() home.Sign { return home.TempOutOfRange }

func (c *temperature) step(o Observation) verdict {
	if o.Check != nil && looksUnwell(*o.Check) {
		c.unwell = o.Check.Time
		if c.open { // the reading of a check comes before its looks
			return foundAs(c.finding())
		}
	}
	r := o.Count
	if r == nil || r.Retained || r.Quantity != home.Temperature || r.Source == home.Clinic {
		return verdict{}
	}
	if r.Value < coldLine || r.Value > warmLine {
		c.out, c.open = *r, true
		return foundAs(c.finding())
	}
	if c.open {
		c.open = false
		return clearAs(temperatureInRange)
	}
	return verdict{}
}

func (c *temperature) finding() home.Finding {
	r := c.out
	f := home.Finding{Urgency: home.Today, Onset: r.Time, OnsetLo: r.Time, OnsetHi: r.Time,
		Before: warmLine, After: r.Value, LevelUnit: "Cel", Data: 1, Warnings: []string{warnTemperature}}
	if r.Value < coldLine {
		f.Before = coldLine
	}
	ill := !c.unwell.IsZero() && r.Time.Sub(c.unwell).Abs() <= unwellFor
	if ill && (r.Value < coldLine || r.Value > hotLine) {
		f.Urgency = home.Now
	}
	f.Text = temperatureText(f)
	return f
}

func (c *temperature) outlook(time.Time, *home.Outlook) {}
