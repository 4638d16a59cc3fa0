package app

import (
	"testing"
	"time"

	"weighbeam/home"
)

// stood is the load of a scale on which kg stands for 40 s after ten quiet minutes,
// and which then lies at base plus left.
func stood(source string, from time.Time, base, kg, left float64) (all []home.Reading) {
	at := from
	hold := func(d time.Duration, load, sway float64) {
		for end := at.Add(d); at.Before(end); at = at.Add(500 * time.Millisecond) {
			wobble := sway * float64(len(all)%3-1)
			all = append(all, home.Reading{Source: source, Quantity: home.Load, Time: at, Value: load + wobble})
		}
	}
	hold(10*time.Minute, base, 0.0005)
	hold(40*time.Second, base+kg, 0.03)
	hold(12*time.Minute, base+left, 0.0005)
	return all
}

// Two cats that no scale can tell apart, each with a chip: what a tag reader says on
// its own topic, over MQTT, names the visit to the box and the meal at the bowl.
func TestApp_TagsNameVisitsAndMeals(t *testing.T) {
	h := home.Household{
		Cats: []home.Cat{{ID: "fig", Name: "Fig", WeightKg: 4.5, Chip: "985 112 004 567 890"}, {ID: "moss", Name: "Moss", WeightKg: 4.5, Chip: "276098100123456"}},
		Scales: []home.Scale{
			{ID: "box-1", Kind: home.LitterBox, Topic: "home/box/1", TagTopic: "home/box/1/tag"},
			{ID: "bowl-1", Kind: home.Feeder, Topic: "home/bowl/1", TagTopic: "home/bowl/1/tag", TagPayload: "json:/chip"},
		},
	}
	l := startLive(t, h, noon)
	tell := func(at time.Time, topic, text string) {
		t.Helper()
		l.clock.Store(&at)
		if token := l.device.Publish(topic, 1, false, text); !token.WaitTimeout(20*time.Second) || token.Error() != nil {
			t.Fatal(token.Error())
		}
	}
	came := noon.Add(10 * time.Minute)
	tell(came.Add(5*time.Second), "home/box/1/tag", "276098100123456\n")
	tell(came.Add(7*time.Second), "home/bowl/1/tag", `{"chip":"985112004567890"}`)
	end := noon.Add(23 * time.Minute)
	l.clock.Store(&end)
	l.say(append(stood("box-1", noon, 6, 4.5, 0.03), stood("bowl-1", noon, 0.4, 0.05, -0.018)...))
	later := noon.Add(3 * time.Hour)
	l.clock.Store(&later)
	l.settle()
	got := map[home.Event]home.Visit{}
	visits, err := l.Store().Visits(t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range visits {
		got[v.Event] = v
	}
	if v := got[home.CatVisit]; v.Cat != "moss" || v.Whose != home.Said || v.MassKg < 4.48 || v.MassKg > 4.52 {
		t.Errorf("the visit: %+v", visits)
	}
	if v := got[home.Meal]; v.Cat != "fig" || v.Whose != home.Said || v.LeftG > -16 || v.LeftG < -20 {
		t.Errorf("the meal: %+v", visits)
	}
	for _, source := range []string{"box-1", "bowl-1"} {
		if tags, err := l.Store().Readings(t.Context(), source, home.Tag, time.Time{}, time.Time{}); err != nil || len(tags) != 1 {
			t.Errorf("%s: tags %+v, %v", source, tags, err)
		}
	}
}
