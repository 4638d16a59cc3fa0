package chart

import (
	"math"
	"testing"
	"time"

	"weighbeam/home"
)

// Places lie where the picture draws its marks: the first and the last at the edges
// of the frame, one halfway between halfway, what is heavier higher.
func TestPicture_Places_LieWhereTheMarksAre(t *testing.T) {
	from := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	to := from.AddDate(0, 0, 10)
	mark := func(days, value float64) Mark {
		return Mark{from.Add(time.Duration(days * 24 * float64(time.Hour))), value}
	}
	p := Picture{From: from, To: to, Zone: time.UTC, Unit: "kg", Series: []Series{
		{Name: "hall", Marks: []Mark{mark(-1, 4), mark(0, 4), mark(5, 4.5), mark(10, 5)}},
		{Name: "attic", Marks: []Mark{mark(5.001, 4.4)}}}}
	for _, size := range []Size{Wide, Low, Narrow} {
		at := p.Places(size)
		if len(at) != 3 { // one is before the picture begins; two stand in one column, and the newer is read
			t.Fatalf("%d places: %+v", len(at), at)
		}
		if at[1].Series != "attic" {
			t.Errorf("of one column it reads %+v", at[1])
		}
		first, middle, last := at[0], at[1], at[2]
		if math.Abs(middle.X-(first.X+last.X)/2) > 0.002 || first.X < 0.02 || last.X > 1 || last.X < 0.95 {
			t.Errorf("across: %v, %v, %v", first.X, middle.X, last.X)
		}
		if !(last.Y < middle.Y && middle.Y < first.Y) || last.Y < 0 || first.Y > 1 {
			t.Errorf("down: %v, %v, %v", first.Y, middle.Y, last.Y)
		}
	}
}

// A picture of nothing has nothing to point at.
func TestPicture_Places_OfNothing(t *testing.T) {
	p := Picture{From: time.Unix(0, 0), To: time.Unix(86400, 0), Zone: time.UTC, Line: []home.TrendPoint{}}
	if at := p.Places(Wide); len(at) != 0 {
		t.Errorf("%+v", at)
	}
}
