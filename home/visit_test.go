package home_test

import (
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

func TestVisit_Weighings(t *testing.T) {
	end := time.Date(2025, 3, 3, 4, 6, 6, 0, time.UTC)
	visit := home.Visit{Source: "box-1", End: end, Event: home.CatVisit, MassKg: 4.2, SDKg: 0.01}
	weighing := home.Weighing{Time: end, Kg: 4.2, SDKg: 0.01, Source: "box-1"}
	of := func(cat string, p float64, unclear bool) home.Weighing {
		w := weighing
		w.Cat, w.Confidence, w.Unclear = cat, p, unclear
		return w
	}
	shares := []home.Share{{Cat: "ash", P: 0.6}, {Cat: "birch", P: 0.38}}
	for _, c := range []struct {
		name   string
		event  home.Event
		cat    string
		shares []home.Share
		want   []home.Weighing
	}{
		// a visit that is named may still be of another cat, by a little
		{"named", home.CatVisit, "ash", shares, []home.Weighing{of("ash", 0.6, false), of("birch", 0.38, true)}},
		// one without a name is not lost to the cats it may be of
		{"unclear", home.CatVisit, "", shares, []home.Weighing{of("ash", 0.6, true), of("birch", 0.38, true)}},
		// a guest's says nothing of those who live here
		{"guest", home.CatVisit, "", nil, nil},
		// what is no weighing has none
		{"meal", home.Meal, "ash", shares, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := visit
			v.Event, v.Cat, v.Shares = c.event, c.cat, c.shares
			if got := v.Weighings(); !slices.Equal(got, c.want) {
				t.Errorf("got %+v\nwant %+v", got, c.want)
			}
		})
	}
}
