package home

import (
	"testing"
	"time"
)

// AAHA/AAFP 2021 at its edges: kitten under 1 year, young adult 1 to 6, mature 7 to
// 10, senior over 10.
func TestStageOf_Edges(t *testing.T) {
	born := time.Date(2015, 3, 31, 0, 0, 0, 0, time.UTC)
	on := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	for _, row := range []struct {
		at    time.Time
		want  Stage
		exams int
	}{
		{on(2016, 3, 30), Kitten, 365}, {on(2016, 3, 31), YoungAdult, 365},
		{on(2022, 3, 30), YoungAdult, 365}, {on(2022, 3, 31), MatureAdult, 365},
		// Ten years old is not over ten; the day after is.
		{on(2025, 3, 31), MatureAdult, 365}, {on(2025, 4, 1), Senior, 182}, {on(2040, 1, 1), Senior, 182},
	} {
		got := StageOf(born, row.at)
		if got != row.want || got.Rhythm().Exam != row.exams {
			t.Errorf("on %v: %s, want %s", row.at, got, row.want)
		}
		end := StageEnds(born, row.at)
		if got == Senior && !end.IsZero() || got != Senior && (!end.After(row.at) || StageOf(born, end) == got || StageOf(born, end.Add(-1)) != got) {
			t.Errorf("on %v: %s ends %v", row.at, got, end)
		}
	}
	if got := StageOf(time.Time{}, born); got != "" || got.Rhythm().Exam != 365 || !StageEnds(time.Time{}, born).IsZero() {
		t.Errorf("a cat of unknown age is %q", got)
	}
}
