package detect

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

// everyDay are counts over 60 s on successive days, so that the number is the rate.
func everyDay(state home.State, rates ...float64) []home.Reading {
	var out []home.Reading
	for i, r := range rates {
		out = append(out, breathReading(breathStart.AddDate(0, 0, i), r, 60, state))
	}
	return out
}

// repeat is n times v.
func repeat(v float64, n int) []float64 { return slices.Repeat([]float64{v}, n) }

// findings says for each transition what turned, as "raised breathing-high book".
func findings(turned []home.Transition) []string {
	var out []string
	for _, t := range turned {
		if t.Turn != home.Updated {
			out = append(out, fmt.Sprintf("%s %s %s", t.Turn, t.Finding.Sign, t.Finding.Urgency))
		}
	}
	return out
}

// TestBreathing_Facts are published or computed facts of breath counts at home,
// and what the signs make of them.
func TestBreathing_Facts(t *testing.T) {
	usual := []float64{21, 22, 20, 23, 21, 19, 22, 21}
	rows := []struct {
		name   string
		counts []home.Reading
		want   []string
	}{
		{"eight counts of mean 21.1, all under 30: nothing (Ljungvall et al. 2014)",
			everyDay(home.Asleep, usual...), nil},
		{"one count of 34 among eight at 21: a recount, no finding",
			everyDay(home.Asleep, 21, 21, 21, 21, 34, 21, 21, 21, 21), nil},
		{"one count of 34 after eight at 21: the same",
			everyDay(home.Asleep, 21, 21, 21, 21, 21, 21, 21, 21, 34), nil},
		{"31, 33, 32 on the first three days: several separate counts over 30",
			everyDay(home.Asleep, 31, 33, 32), []string{"raised breathing-high book"}},
		{"the same in a clinic: another variable (Dijkstra et al. 2018, healthy cats 32 to 135)",
			everyDay(home.AtClinic, 64, 66, 64, 80, 64), nil},
		{"the same of an active cat",
			everyDay(home.Active, 64, 66, 64, 80, 64), nil},
		{"healthy cats at rest, median 27 (Dijkstra et al. 2018)",
			everyDay(home.Resting, 27, 29, 31, 33, 27, 32, 31, 28, 27, 33), nil},
		{"treated, stable cats: 20, up to 25 (Porciello et al. 2016)",
			everyDay(home.Asleep, 20, 25, 19, 22, 25, 20, 21, 25, 23, 20), nil},
		{"over 40 asleep, confirmed the next day: call today",
			everyDay(home.Asleep, 22, 44, 46), []string{"raised breathing-high today"}},
		{"over 40 asleep once",
			everyDay(home.Asleep, 22, 21, 44, 21, 22), nil},
		{"over 40 at rest three times",
			everyDay(home.Resting, 44, 46, 45), []string{"raised breathing-high today"}},
		{"exactly 30: not over the line",
			everyDay(home.Asleep, 30, 30, 30, 30, 30), nil},
	}
	for _, r := range rows {
		m := New(home.Cat{ID: "juniper"}, Options{})
		if got := findings(stepCounts(m, r.counts)); !slices.Equal(got, r.want) {
			t.Errorf("%s: %v, want %v", r.name, got, r.want)
		}
	}
}

// TestBreathingHigh_Recount: a high count, counted again within the hour and high
// each time, is found at once; counted again and normal, it is nothing.
func TestBreathingHigh_Recount(t *testing.T) {
	at := breathStart
	for _, r := range []struct {
		again []float64 // counts at intervals of 20 minutes after one of 34
		want  []string
	}{
		{[]float64{33, 35}, []string{"raised breathing-high book"}},
		{[]float64{24, 22, 23}, nil},
		{[]float64{42, 44}, []string{"raised breathing-high today"}},
	} {
		m := New(home.Cat{ID: "juniper"}, Options{})
		counts := []home.Reading{breathReading(at, 34, 60, home.Asleep)}
		for i, v := range r.again {
			counts = append(counts, breathReading(at.Add(time.Duration(i+1)*20*time.Minute), v, 60, home.Asleep))
		}
		if got := findings(stepCounts(m, counts)); !slices.Equal(got, r.want) {
			t.Errorf("34 then %v: %v, want %v", r.again, got, r.want)
		}
	}
}

// TestBreathingHigh_Closes: the finding stands until four counts in a row are at
// or under the line, through any gap.
func TestBreathingHigh_Closes(t *testing.T) {
	m := New(home.Cat{ID: "juniper"}, Options{})
	stepCounts(m, everyDay(home.Asleep, 32, 33, 32, 28, 27, 29))
	if len(m.Open()) != 1 {
		t.Fatalf("open %v, want one", m.Open())
	}
	for d := range 60 * 24 {
		m.Tick(breathStart.AddDate(0, 0, 6).Add(time.Duration(d) * time.Hour))
	}
	if i := slices.IndexFunc(m.Open(), func(f home.Finding) bool { return f.Sign == home.BreathingHigh }); i < 0 {
		t.Fatal("closed by silence")
	}
	got := findings(stepCounts(m, []home.Reading{breathReading(breathStart.AddDate(0, 0, 70), 27, 60, home.Asleep)}))
	if want := []string{"closed breathing-high book"}; !slices.Equal(got[:1], want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestBreathingRising_FoundAndClosed: a cat with a usual of 18 rises by 1 a minute
// each week, is found with its figures while every count is still under 30, and
// the finding closes when the counts are back.
func TestBreathingRising_FoundAndClosed(t *testing.T) {
	s := newSleeper(5)
	s.usual, s.spread, s.wander, s.season = 18, 1.5, 0.4, 0
	s.onset, s.pace = 150, 1
	readings := s.counts(150 + 60)
	m := New(home.Cat{ID: "juniper"}, Options{})
	turned := stepCounts(m, readings)
	if got, want := findings(turned)[0], "raised breathing-rising"; !strings.HasPrefix(got, want) {
		t.Fatalf("%v, want %v", got, want)
	}
	f := turned[0].Finding
	onset := breathStart.AddDate(0, 0, 150)
	if lag := f.Raised.Sub(onset).Hours() / 24; lag < 5 || lag > 45 {
		t.Errorf("found %.0f days after the onset", lag)
	}
	if f.Before < 17 || f.Before > 19.5 || f.After <= f.Before || f.RateLo > 1 || f.RateHi < 1 || f.RateUnit != "1/min/week" {
		t.Errorf("figures: before %.1f after %.1f rate %.2f to %.2f", f.Before, f.After, f.RateLo, f.RateHi)
	}
	if !f.OnsetLo.Before(onset) || !f.OnsetHi.After(onset) {
		t.Errorf("onset %v to %v", f.OnsetLo, f.OnsetHi)
	}
	if open := m.Open(); len(open) == 0 || open[0].Urgency != home.Book {
		t.Errorf("after 60 days and 8 a minute more: %v, want book", open)
	}
	back := newSleeper(6)
	back.usual, back.spread, back.wander, back.season = 18, 1.5, 0.4, 0
	after := back.counts(120)
	for i := range after {
		after[i].Time = after[i].Time.AddDate(0, 0, 211)
	}
	turned = stepCounts(m, after)
	last := turned[len(turned)-1]
	if open := m.Open(); len(open) != 0 || last.Turn != home.Closed {
		t.Fatalf("still open: %+v", open)
	}
	if lag := last.At.Sub(breathStart.AddDate(0, 0, 211)).Hours() / 24; lag > 60 {
		t.Errorf("closed %.0f days after the counts were back", lag)
	}
}

// TestBreathing_StatesApart: what is counted awake, in a clinic or of an active cat
// changes nothing of what is known of the sleeping cat.
func TestBreathing_StatesApart(t *testing.T) {
	s := newSleeper(9)
	asleep := s.counts(200)
	alone, mixed := New(home.Cat{ID: "juniper"}, Options{}), New(home.Cat{ID: "juniper"}, Options{})
	for i := range asleep {
		alone.Step(Observation{Count: &asleep[i]})
		mixed.Step(Observation{Count: &asleep[i]})
		for j, state := range []home.State{home.Active, home.AtClinic} {
			other := breathReading(asleep[i].Time.Add(time.Duration(j+1)*time.Minute), 90, 60, state)
			mixed.Step(Observation{Count: &other})
		}
		clinic := breathReading(asleep[i].Time.Add(time.Hour), 50, 60, home.Resting)
		clinic.Source = home.Clinic
		mixed.Step(Observation{Count: &clinic})
	}
	now := breathStart.AddDate(0, 0, 201)
	if a, b := alone.Outlook(now), mixed.Outlook(now); !reflect.DeepEqual(a, b) {
		t.Errorf("alone %+v\nmixed %+v", a, b)
	}
}

// TestBreathing_Outlook: how many counts are missing is said, then the usual.
func TestBreathing_Outlook(t *testing.T) {
	m := New(home.Cat{ID: "juniper"}, Options{})
	stepCounts(m, everyDay(home.Asleep, repeat(20, 5)...))
	out := m.Outlook(breathStart.AddDate(0, 0, 5))
	if out.Asleep.Known || !slices.Contains(out.Unknown, unknownBreaths(3)) {
		t.Errorf("after five counts: %+v", out)
	}
	stepCounts(m, everyDay(home.Asleep, append(repeat(20, 12), 34)...)[5:])
	out = m.Outlook(breathStart.AddDate(0, 0, 13))
	if f := out.Asleep; !f.Known || f.Value < 19 || f.Value > 21.5 || f.Lo >= f.Value || f.Hi <= f.Value {
		t.Errorf("usual after twelve of 20: %+v", f)
	}
	if !slices.Contains(out.Unknown, recount(34)) {
		t.Errorf("no recount asked for: %v", out.Unknown)
	}
}

// TestBreathing_Duplicates: the same reading twice, or one that comes late,
// changes nothing.
func TestBreathing_Duplicates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newSleeper(rapid.Uint64Range(0, 1000).Draw(t, "cat"))
		s.onset, s.pace = 30, 2
		once := s.counts(90)
		var twice []home.Reading
		for i, r := range once {
			twice = append(twice, r)
			if rapid.IntRange(0, 3).Draw(t, "again") == 0 {
				twice = append(twice, r, once[max(0, i-1)])
			}
		}
		a, b := New(home.Cat{ID: "juniper"}, Options{}), New(home.Cat{ID: "juniper"}, Options{})
		if x, y := stepCounts(a, once), stepCounts(b, twice); !reflect.DeepEqual(x, y) {
			t.Fatalf("once %v\ntwice %v", findings(x), findings(y))
		}
	})
}

// TestBreathing_Sitting: five counts in one sitting say little more than one, and
// a sitting's odd count out does not pull.
func TestBreathing_Sitting(t *testing.T) {
	one, five := newBreathing(home.Asleep), newBreathing(home.Asleep)
	for i, r := range everyDay(home.Asleep, repeat(20, 20)...) {
		one.take(r)
		for j := range 5 {
			again := breathReading(r.Time.Add(time.Duration(j)*10*time.Minute), 20, 60, home.Asleep)
			if j == 1 && i%2 == 0 {
				again.Value = 33
			}
			five.take(again)
		}
	}
	a, sa := one.rises.Level()
	b, sb := five.rises.Level()
	if d := a - b; d > 0.1 || d < -0.1 || sb > sa || sb < sa/2 {
		t.Errorf("usual %.2f (%.2f) of one a day, %.2f (%.2f) of five", a, sa, b, sb)
	}
	if one.rises.N() != five.rises.N() {
		t.Errorf("%d and %d sittings", one.rises.N(), five.rises.N())
	}
}

// TestBreathing_FewCats keeps the characteristics from slipping between two long
// measurements: on a few cats, wide limits.
func TestBreathing_FewCats(t *testing.T) {
	raised := healthyYears(40, 2, 0.1, 0, asDrawn)
	if sum := raised[home.BreathingRising] + raised[home.BreathingHigh]; sum > 0.2 {
		t.Errorf("%.3f false findings a cat-year, budget 0.1", sum)
	}
	for pace, most := range map[float64]float64{0.5: 72, 1: 40, 2: 25} {
		if r := risingCats(40, pace, 0.1, 0, tellNothing); r.quantile(0.5) > most {
			t.Errorf("%.1f a week: median delay %.0f days, want %.0f at most", pace, r.quantile(0.5), most)
		}
	}
}

// BenchmarkBreathing_Step is the cost of one count after a history of some years.
func BenchmarkBreathing_Step(b *testing.B) {
	for _, years := range []int{1, 10, 20} {
		b.Run(fmt.Sprintf("%dy", years), func(b *testing.B) {
			s := newBreathingRising(Options{})
			readings := newSleeper(3).counts(365 * years)
			for i := range readings {
				s.step(Observation{Count: &readings[i]})
			}
			at := readings[len(readings)-1].Time
			b.ResetTimer()
			for i := range b.N {
				r := breathReading(at.Add(time.Duration(i+1)*48*time.Hour), 10, 30, home.Asleep)
				s.step(Observation{Count: &r})
			}
		})
	}
}

// TestBreathing_Plainly: the second voice hears a jump of 6 in the last sittings
// and none in level counts, and says nothing of too few.
func TestBreathing_Plainly(t *testing.T) {
	few, level, jump := newBreathing(home.Asleep), newBreathing(home.Asleep), newBreathing(home.Asleep)
	for i, r := range everyDay(home.Asleep, repeat(20, 50)...) {
		r.Value += float64(i*7%5) - 2
		if i < 8 {
			few.take(r)
		}
		level.take(r)
		if i >= 44 {
			r.Value += 6
		}
		jump.take(r)
	}
	if z := few.plainly(); !math.IsNaN(z) {
		t.Errorf("few: %v, want NaN", z)
	}
	if z := level.plainly(); z > 1.64 || z < -1.64 {
		t.Errorf("level: %v", z)
	}
	if z := jump.plainly(); !(z > 3) {
		t.Errorf("jump: %v", z)
	}
}

// TestBreathing_Text: each sentence gives the figures, what to do, and what cannot
// wait; none names a disease.
func TestBreathing_Text(t *testing.T) {
	for _, state := range []home.State{home.Asleep, home.Resting} {
		for u, act := range map[home.Urgency]string{home.Mention: "next visit", home.Book: "book a visit", home.Today: "today"} {
			f := home.Finding{Urgency: u, Onset: breathStart, OnsetLo: breathStart, OnsetHi: breathStart,
				Before: 18, After: 23, ChangePct: 27.8, Rate: 1.2, RateLo: 0.9, RateHi: 1.6, Data: 3}
			for _, text := range []string{risingBreathsText(state, f, ""), highBreathsText(state, f)} {
				for _, part := range []string{stateWords(state), "18", "23", act, "open mouth", "go to a vet now", "1 March 2022"} {
					if !strings.Contains(text, part) {
						t.Errorf("no %q in: %s", part, text)
					}
				}
				for _, disease := range []string{"heart", "failure", "asthma", "disease", "cancer"} {
					if strings.Contains(strings.ToLower(text), disease) {
						t.Errorf("names %q: %s", disease, text)
					}
				}
			}
		}
	}
}
