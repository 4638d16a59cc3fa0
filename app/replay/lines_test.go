package replay

import (
	"encoding/json"
	"testing"
	"time"

	"weighbeam/home"
)

// The lines of a replay are a format that others read: names, what is left out, and times
// in UTC wherever the readings were made.
func TestEvent_MarshalJSON_AsDescribed(t *testing.T) {
	there := time.FixedZone("there", 2*60*60)
	at := func(day int) time.Time { return time.Date(2025, 3, day, 6, 5, 6, 0, there) }
	f := home.Finding{Cat: "juniper", Sign: home.WeightFalling, Urgency: home.Book, Raised: at(20), Onset: at(3), OnsetLo: at(1), OnsetHi: at(9),
		ChangePct: -2.1, Rate: -0.55, RateLo: -0.8, RateHi: -0.3, RateUnit: "%/week", Closed: at(25), Reason: "It is as before.", Text: "Down."}
	turned := func(turn home.Turn, f home.Finding) Event {
		e, ok := findingEvent(home.Transition{Turn: turn, At: f.Raised, Finding: f})
		if !ok {
			t.Fatalf("%s is no event", turn)
		}
		return e
	}
	visit := home.Visit{Source: "box-1", Start: at(3), End: at(3).Add(time.Minute), Event: home.CatVisit, MassKg: 4.512, SDKg: 0.012,
		HasLeft: true, LeftG: 38.1, LeftSDG: 1.5, Quality: 1, Cat: "juniper", Confidence: 0.998, Whose: home.Named}
	unclear := visit
	unclear.HasLeft, unclear.Cat, unclear.Confidence, unclear.Whose, unclear.Shares = false, "", 0, home.Unclear, []home.Share{{Cat: "juniper", P: 0.5}, {Cat: "moss", P: 0.4}}
	knock := home.Visit{Source: "box-1", Start: at(3), End: at(3).Add(time.Minute), Event: home.Knocked}
	silent := home.Finding{Source: "box-1", Sign: home.ScaleSilent, Urgency: home.Mention, Raised: at(20), Text: "Silent."}
	breaths := f
	breaths.RateUnit = "/min/week"
	high := silent
	high.Onset, high.OnsetLo, high.OnsetHi = at(3), at(1), at(9)
	for _, row := range []struct {
		Event
		want string
	}{
		{visitEvent(visit), `{"event":"visit","source":"box-1","start":"2025-03-03T04:05:06Z","end":"2025-03-03T04:06:06Z","mass_kg":4.512,"sd_kg":0.012,"left_g":38.1,"left_sd_g":1.5,"quality":1,"cat":"juniper","confidence":0.998,"whose":"named"}`},
		// What does not apply is left out; an unclear cat is an empty one.
		{visitEvent(unclear), `{"event":"visit","source":"box-1","start":"2025-03-03T04:05:06Z","end":"2025-03-03T04:06:06Z","mass_kg":4.512,"sd_kg":0.012,"quality":1,"cat":"","confidence":0,"whose":"unclear","shares":[{"cat":"juniper","p":0.5},{"cat":"moss","p":0.4}]}`},
		// What was no weighing is no visit.
		{visitEvent(knock), `{"event":"scale","source":"box-1","start":"2025-03-03T04:05:06Z","end":"2025-03-03T04:06:06Z","kind":"knocked","quality":0,"cat":"","confidence":0}`},
		{turned(home.Raised, f), `{"event":"finding","cat":"juniper","source":"","sign":"weight-falling","urgency":"book","raised":"2025-03-20T04:05:06Z","at":"2025-03-20T04:05:06Z","onset":"2025-03-03T04:05:06Z","onset_interval":["2025-03-01T04:05:06Z","2025-03-09T04:05:06Z"],"change_pct":-2.1,"rate_pct_per_week":-0.55,"rate_pct_per_week_interval":[-0.8,-0.3],"text":"Down."}`},
		{turned(home.Raised, breaths), `{"event":"finding","cat":"juniper","source":"","sign":"weight-falling","urgency":"book","raised":"2025-03-20T04:05:06Z","at":"2025-03-20T04:05:06Z","onset":"2025-03-03T04:05:06Z","onset_interval":["2025-03-01T04:05:06Z","2025-03-09T04:05:06Z"],"change_pct":-2.1,"rate_per_min_per_week":-0.55,"rate_per_min_per_week_interval":[-0.8,-0.3],"text":"Down."}`},
		{turned(home.Worsened, silent), `{"event":"finding-worsened","cat":"","source":"box-1","sign":"scale-silent","urgency":"mention","raised":"2025-03-20T04:05:06Z","at":"2025-03-20T04:05:06Z","text":"Silent."}`},
		// What is high since a day has not changed by a percentage.
		{turned(home.Raised, high), `{"event":"finding","cat":"","source":"box-1","sign":"scale-silent","urgency":"mention","raised":"2025-03-20T04:05:06Z","at":"2025-03-20T04:05:06Z","onset":"2025-03-03T04:05:06Z","onset_interval":["2025-03-01T04:05:06Z","2025-03-09T04:05:06Z"],"text":"Silent."}`},
		{turned(home.Closed, f), `{"event":"finding-closed","cat":"juniper","source":"","sign":"weight-falling","closed":"2025-03-25T04:05:06Z","reason":"It is as before."}`},
	} {
		if got, err := json.Marshal(row.Event); err != nil || string(got) != row.want {
			t.Errorf("got  %s\nwant %s, %v", got, row.want, err)
		}
	}
}
