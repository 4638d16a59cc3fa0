package fakehouse

import (
	"slices"
	"time"

	"weighbeam/home"
)

func sortByTime(ws []home.Weighing) {
	slices.SortStableFunc(ws, func(a, b home.Weighing) int { return a.Time.Compare(b.Time) })
}

// The findings of a lived-in house.
var (
	Falling = home.Finding{
		Cat: "mustard", Sign: home.WeightFalling, Urgency: home.Book,
		Raised: Now.AddDate(0, 0, -9), Updated: Now.AddDate(0, 0, -2),
		Onset: Now.AddDate(0, 0, -44), OnsetLo: Now.AddDate(0, 0, -55), OnsetHi: Now.AddDate(0, 0, -36),
		ChangePct: -3.4, Rate: -0.54, RateLo: -0.71, RateHi: -0.38, RateUnit: "%/week",
		Before: 4.43, After: 4.28, LevelUnit: "kg", Confidence: 0.994, Data: 108,
		Warnings: []string{"Only one of the two boxes was used on 12 of these days."},
		Text:     "Mustard has lost 3.4 % of her weight since about the middle of February, a little every week. This is more than her usual ups and downs.",
	}
	Rising = home.Finding{
		Cat: "plum", Sign: home.BreathingRising, Urgency: home.Today,
		Raised: Now.AddDate(0, 0, -1), Updated: Now.AddDate(0, 0, -1),
		Onset: Now.AddDate(0, 0, -50), OnsetLo: Now.AddDate(0, 0, -70), OnsetHi: Now.AddDate(0, 0, -31),
		Rate: 1.1, RateLo: 0.6, RateHi: 1.5, RateUnit: "1/min/week", Before: 21, After: 30, LevelUnit: "breaths a minute",
		Confidence: 0.97, Data: 74,
		Text: "Plum's breaths while asleep have risen from about 21 to 30 a minute.",
	}
	Silent = home.Finding{
		Source: "bowl", Sign: home.ScaleSilent, Urgency: home.Mention, Raised: Now.AddDate(0, 0, -4),
		Text: "The scale bowl has sent nothing for four days. Until it does, nothing is known of what was eaten.",
	}
	Gone = home.Finding{
		Cat: "barnaby", Sign: home.NotSeen, Urgency: home.Mention, Raised: Now.AddDate(0, 0, -215), Closed: Now.AddDate(0, 0, -205),
		Reason: "He was weighed again.", Text: "No scale met Barnaby for two weeks.",
	}
)

func (h *House) find() {
	h.Found = []home.Finding{Rising, Silent, Falling, Gone}
	h.Told = []home.Notice{
		{ID: "n3", Finding: Rising.ID(), Turn: home.Raised, Urgency: home.Today, Channel: "phone", Subject: "Plum: call the practice today",
			Body: Rising.Text + "\n\n" + home.Caution, Created: Rising.Raised, State: home.Sent, Reason: "Urgent enough for the quiet hours.", Attempts: 2, Sent: Rising.Raised.Add(time.Minute)},
		{ID: "n2", Finding: Silent.ID(), Turn: home.Raised, Urgency: home.Mention, Channel: "mail", Subject: "The scale bowl is silent",
			Body: Silent.Text, Created: Silent.Raised, State: home.Withheld, Reason: "Only told in the weekly letter, which goes out on Sunday."},
		{ID: "n1", Finding: Falling.ID(), Turn: home.Raised, Urgency: home.Book, Channel: "mail", Subject: "Mustard: book a visit",
			Body: Falling.Text + "\n\n" + home.Caution, Created: Falling.Raised, State: home.GivenUp, Reason: "The mail server refused the letter six times.", Attempts: 6},
	}
	h.Told = append(h.Told, home.Notice{ID: "n4", Finding: Rising.ID(), Turn: home.Reminded, Urgency: home.Today, Channel: "phone", Subject: "Reminder. Plum: call the practice today",
		Body: Rising.Text, Created: Rising.Raised, State: home.Waiting, Reason: "A reminder, if it still stands by then.", Due: Now.AddDate(0, 0, 3)})
	h.Status = []home.SourceStatus{
		{Source: "hall-box", Last: Now.Add(-70 * time.Minute), Arrived: Now.Add(-69 * time.Minute), Stored: Now.Add(-69*time.Minute + 1200*time.Millisecond), Count: 182734},
		{Source: "attic-box", Last: Now.Add(-9 * time.Hour), Arrived: Now.Add(-9 * time.Hour), Stored: Now.Add(-9*time.Hour + time.Millisecond), Count: 90411, Battery: 12, BatteryAt: Now.Add(-9 * time.Hour)},
		{Source: "bowl", Last: Now.AddDate(0, 0, -4), Arrived: Now.AddDate(0, 0, -4), Count: 55102},
		{Source: home.Hand, Last: Now.AddDate(0, 0, -3), Arrived: Now.AddDate(0, 0, -3), Count: 79},
	}
	h.Aside = []home.SetAside{
		{ID: 2, Arrived: Now.Add(-2 * time.Hour), Way: "mqtt", Topic: "house/hall/box", Payload: []byte(`{"w": "4,52"}`), Reason: "There is no number at json:w, but the text \"4,52\"."},
		{ID: 1, Arrived: Now.Add(-26 * time.Hour), Way: "http", Topic: "/api/v1/readings", Payload: []byte{0x1f, 0x8b, 0, 3}, Reason: "The payload is neither text nor JSON."},
	}
	h.Aside = append(h.Aside, home.SetAside{ID: 3, Arrived: Now.Add(-time.Hour), Way: "mqtt", Topic: "house/cellar/scale", Payload: []byte("81.4"), Reason: "No scale claims this topic.", Latest: true})
	h.Visited = []home.Visit{
		{Source: "hall-box", Start: Now.Add(-72 * time.Minute), End: Now.Add(-70 * time.Minute), Event: home.CatVisit, MassKg: 4.28, SDKg: 0.012, LeftG: 31, HasLeft: true, Quality: 0.9, Cat: "mustard", Confidence: 0.98, Whose: home.Named},
		{Source: "hall-box", Start: Now.Add(-5 * time.Hour), End: Now.Add(-5*time.Hour + 43*time.Second), Event: home.CatVisit, MassKg: 4.05, SDKg: 0.05, Quality: 0.3, Reasons: []string{"moving"}, Whose: home.Unclear},
	}
}

func (h *House) calibrate() {
	c := home.Calibration{Source: "hall-box", At: Now.AddDate(0, -7, 0), From: home.Always, By: "Ines", Gain: 1.004, GainSD: 0.0004, RepeatabilityKg: 0.0011, LinearityKg: 0.0012, ToKg: 5}
	later := c
	later.At, later.From, later.Gain = Now.AddDate(0, -1, 0), Now.AddDate(0, -1, 0), 1.011
	h.Calibrated = []home.Calibration{c, later}
}

func (h *House) people() {
	h.Checked = []home.HomeCheck{
		{ID: "c1", Cat: "plum", Time: Now.AddDate(0, 0, -3), By: "Ines", Note: "Slept on the radiator.\nAte everything.",
			Readings: []home.Reading{{Source: home.Hand, Quantity: home.Breaths, Cat: "plum", State: home.Asleep, Window: 30 * time.Second, Value: 15, Time: Now.AddDate(0, 0, -3)}}},
		{ID: "c2", Cat: "mustard", Time: Now.AddDate(0, 0, -60), By: "Ole",
			Readings: []home.Reading{{Source: home.Hand, Quantity: home.Weight, Cat: "mustard", Value: 4.47, SD: 0.041, Time: Now.AddDate(0, 0, -60)}}},
	}
}

func (h *House) know() {
	h.Outlooks["mustard"] = home.Outlook{Cat: "mustard", AsOf: Now,
		Weight: home.Figure{Known: true, Value: 4.28, Lo: 4.26, Hi: 4.30}, Month: home.Change{Known: true, Pct: -2.1, Lo: -2.6, Hi: -1.6},
		Year: home.Change{Known: true, Pct: -3.2, Lo: -3.8, Hi: -2.6}, LastKg: Now.Add(-70 * time.Minute),
		Learned: []string{"Weight: her usual ups and downs are known from 990 weighings."},
		Unknown: []string{"Sleeping breaths: none counted yet. Eight to ten counts make a usual."}}
	h.Outlooks["plum"] = home.Outlook{Cat: "plum", AsOf: Now,
		Weight: home.Figure{Known: true, Value: 3.89, Lo: 3.87, Hi: 3.91}, Month: home.Change{Known: true, Pct: 0.1, Lo: -0.5, Hi: 0.7},
		Year: home.Change{Known: true, Pct: 1.3, Lo: 0.6, Hi: 2.0}, Asleep: home.Figure{Known: true, Value: 30, Lo: 28, Hi: 32}, LastKg: Now.Add(-4 * time.Hour),
		Learned: []string{"Weight and sleeping breaths are both known well."}}
	h.Outlooks["barnaby"] = home.Outlook{Cat: "barnaby", AsOf: Now,
		Weight: home.Figure{Known: true, Value: 5.21, Lo: 5.19, Hi: 5.23}, Month: home.Change{Known: true, Pct: 0, Lo: -0.4, Hi: 0.4},
		LastKg:  Now.Add(-9 * time.Hour),
		Unknown: []string{"Change in a year: the weighings begin 14 months ago, but the scale was moved in May and could not be matched.", "Sleeping breaths: none counted yet."}}
}
