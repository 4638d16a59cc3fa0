package dashboards

import (
	"math"
	"net/url"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/dashboards/chart"
	"weighbeam/home"
)

var now = time.Date(2026, 3, 28, 18, 45, 0, 0, time.UTC)

func TestNumber_Signs(t *testing.T) {
	for _, c := range []struct {
		v              float64
		decimals       int
		plain, withSgn string
	}{
		{4.276, 2, "4.28", "+4.28"},
		{-2.14, 1, "−2.1", "−2.1"},
		// What rounds to nothing has no sign: "−0.0" would say it fell.
		{-0.04, 1, "0.0", "0.0"},
		{0.04, 1, "0.0", "0.0"},
		{0, 0, "0", "0"},
		{-30, 0, "−30", "−30"},
	} {
		if got := number(c.v, c.decimals); got != c.plain {
			t.Errorf("number(%v) is %q, want %q", c.v, got, c.plain)
		}
		if got := signed(c.v, c.decimals); got != c.withSgn {
			t.Errorf("signed(%v) is %q, want %q", c.v, got, c.withSgn)
		}
	}
}

func TestAgo_LargestUnit(t *testing.T) {
	for d, want := range map[time.Duration]string{
		30 * time.Second:  "just now",
		time.Minute:       "1 minute ago",
		61 * time.Minute:  "1 hour ago",
		47 * time.Hour:    "47 hours ago",
		49 * time.Hour:    "2 days ago",
		-10 * time.Minute: "ahead of the clock of this house",
	} {
		if got := ago(now, now.Add(-d)); got != want {
			t.Errorf("%v ago is %q, want %q", d, got, want)
		}
	}
	if got := ago(now, time.Time{}); got != "never" {
		t.Errorf("no time is %q", got)
	}
}

func TestAge_AsWellAsItIsKnown(t *testing.T) {
	born := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		cat  home.Cat
		want string
	}{
		{home.Cat{}, ""},
		{home.Cat{Born: born(2014, 1, 1), BornYear: true}, "about 12 years old"},
		// The day before a birthday and the day itself, after a leap day.
		{home.Cat{Born: born(2016, 3, 29)}, "9 years old"},
		{home.Cat{Born: born(2016, 3, 28)}, "10 years old"},
		{home.Cat{Born: born(2025, 12, 1)}, "3 months old"},
	} {
		if got := age(c.cat, now); got != c.want {
			t.Errorf("born %s: %q, want %q", c.cat.Born.Format(time.DateOnly), got, c.want)
		}
	}
}

// Every sign, urgency and state has words of its own, and an unknown one is
// still readable.
func TestWords_OfEverything_AreThere(t *testing.T) {
	for _, s := range home.Signs() {
		if _, ok := signs[s]; !ok || signWords(s) == "" || mindWords(s) == "" {
			t.Errorf("%s has no words", s)
		}
	}
	if got := signWords("bowl-empty"); got != "Bowl empty" {
		t.Errorf("an unknown sign is %q", got)
	}
	for _, u := range []home.Urgency{home.Now, home.Today, home.Book, home.Mention} {
		if urgencyWords(u) == urgencyWords("") {
			t.Errorf("%s has no words", u)
		}
	}
	for _, s := range []home.NoticeState{home.Waiting, home.Sent, home.Withheld, home.GivenUp} {
		if stateWords(s) == "" {
			t.Errorf("%s has no words", s)
		}
	}
}

func TestPeriodOf_AnyQuery_IsAPeriodThatAsksForItselfAgain(t *testing.T) {
	text := rapid.OneOf(rapid.SampledFrom([]string{"", "6w", "6m", "all", "2026-01-01", "2025-12-31", "x"}), rapid.String())
	rapid.Check(t, func(t *rapid.T) {
		q := url.Values{"period": {text.Draw(t, "period")}, "from": {text.Draw(t, "from")}, "to": {text.Draw(t, "to")}}
		p := periodOf(q, now, time.UTC)
		if !p.From.Before(p.To) {
			t.Fatalf("%v gives %v to %v", q, p.From, p.To)
		}
		again, err := url.ParseQuery(p.query())
		if err != nil {
			t.Fatal(err)
		}
		if b := periodOf(again, now, time.UTC); !b.From.Equal(p.From) || !b.To.Equal(p.To) {
			t.Fatalf("%v became %v", p, b)
		}
	})
}

// Nine in ten of a hundred even steps, and none from too few.
func TestUsualRange_NineInTen(t *testing.T) {
	var ms []chart.Mark
	for i := range 101 {
		ms = append(ms, chart.Mark{Time: now.AddDate(0, 0, -200+i), Value: float64(i)})
	}
	got := usualRange(ms, now.AddDate(0, 0, -200), now)
	if math.Abs(got.Lo-5) > 1 || math.Abs(got.Hi-95) > 1 {
		t.Errorf("range is %v, want about 5 to 95", got)
	}
	if got := usualRange(ms, now.AddDate(0, 0, -200), now.AddDate(0, 0, -181)); got != (chart.Range{}) {
		t.Errorf("19 readings give %v, want none", got)
	}
}

// An open change must not become part of what is usual.
func TestUsualSpan_EndsBeforeAnOpenChange(t *testing.T) {
	onset := now.AddDate(0, 0, -60)
	if _, to := usualSpan([]home.Finding{{OnsetLo: onset}}, now); !to.Equal(onset) {
		t.Errorf("ends %v, want %v", to, onset)
	}
	if _, to := usualSpan(nil, now); !to.Equal(now.AddDate(0, 0, -28)) {
		t.Errorf("with nothing open it ends %v", to)
	}
}

func TestChangeOver_LevelsThreeMonthsApart(t *testing.T) {
	trend := []home.TrendPoint{
		{Time: now.AddDate(0, 0, -92), Value: 4, Lo: 3.96, Hi: 4.04},
		{Time: now.AddDate(0, 0, -1), Value: 3.8, Lo: 3.77, Hi: 3.83},
	}
	c := changeOver(trend, now, 91)
	// 5 % down; half widths 0.03/4 and 0.95*0.04/4, at right angles: 1.21 %.
	if !c.Known || math.Abs(c.Pct+5) > 1e-9 || math.Abs(c.Hi-c.Lo-2*1.2103) > 0.001 {
		t.Errorf("change is %+v, want -5 ± 1.21", c)
	}
	if c := changeOver(trend, now, 183); c.Known {
		t.Errorf("a change from before the first level is %+v", c)
	}
}

func TestExcerpt_OfAnything_IsShortText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := excerpt(rapid.SliceOfN(rapid.Byte(), 0, 600).Draw(t, "payload"))
		if len(text) > 4*excerptBytes {
			t.Fatalf("%d bytes", len(text))
		}
	})
	if got := excerpt([]byte("4,52 µg")); got != "4,52 µg" {
		t.Errorf("text became %q", got)
	}
	if got := excerpt([]byte{0x1f, 0x8b}); got != "bytes 1f 8b" {
		t.Errorf("bytes became %q", got)
	}
}

// A table holds every reading once, in whatever way it is cut and zone it is in.
func TestTable_AnyReadings_HoldsEachOnce(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := series{}
		at := now
		for range rapid.IntRange(0, 60).Draw(t, "n") {
			at = at.Add(time.Duration(rapid.IntRange(0, 200).Draw(t, "gap")) * time.Hour)
			s.readings, s.values = append(s.readings, home.Reading{Time: at}), append(s.values, 4)
		}
		s.picture.From, s.picture.To = now, at.Add(time.Hour)
		sum, seen := 0, map[string]bool{}
		for _, row := range s.table(berlin).Rows {
			sum += row.N
			if seen[row.When] {
				t.Fatalf("two rows for %s", row.When)
			}
			seen[row.When] = true
		}
		if sum != len(s.readings) {
			t.Fatalf("the rows hold %d of %d", sum, len(s.readings))
		}
	})
}

func TestTurnWords(t *testing.T) {
	for finding, want := range map[string]string{"moss/red-flag/20250303T023000.000000Z": "seen again", "moss/weight-falling/20250303T023000.000000Z": "more urgent"} {
		if got := turnWords(home.Notice{Finding: finding, Turn: home.Worsened}); got != want {
			t.Errorf("%s: %q, want %q", finding, got, want)
		}
	}
}
