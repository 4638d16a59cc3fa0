package ingest_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
	"weighbeam/ingest"
)

// The rows marked with a section are the examples of MQTT 3.1.1, section 4.7.
func TestMatch(t *testing.T) {
	tests := []struct {
		filter, topic string
		want          bool
	}{
		// 4.7.1.2: '#' takes in the level above and everything below
		{"sport/tennis/player1/#", "sport/tennis/player1", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/ranking", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true},
		{"sport/#", "sport", true},
		{"#", "sport/tennis", true},
		// 4.7.1.3: '+' is one level, an empty one as well
		{"sport/tennis/+", "sport/tennis/player1", true},
		{"sport/tennis/+", "sport/tennis/player1/ranking", false},
		{"sport/+", "sport", false},
		{"sport/+", "sport/", true},
		{"+/+", "/finance", true},
		{"/+", "/finance", true},
		{"+", "/finance", false},
		// 4.7.2: topics that begin with '$' are not met by a leading wildcard
		{"#", "$SYS/x", false},
		{"+/monitor/Clients", "$SYS/monitor/Clients", false},
		{"$SYS/#", "$SYS/x", true},
		{"$SYS/monitor/+", "$SYS/monitor/Clients", true},
		// 4.7.3: case matters, and so does a slash at either end
		{"ACCOUNTS", "Accounts", false},
		{"/finance", "finance", false},
		{"a/b", "a/b/c", false},
		{"a/b/c", "a/b", false},
		{"a/+/c", "a/b/c", true},
		{"a/+/c/#", "a/b/c", true},
	}
	for _, tt := range tests {
		if got := ingest.Match(tt.filter, tt.topic); got != tt.want {
			t.Errorf("%q meets %q: %v, want %v", tt.filter, tt.topic, got, tt.want)
		}
	}
}

func TestCovers(t *testing.T) {
	tests := []struct {
		a, b string
		want bool
	}{
		{"home/#", "home/litter/1", true},
		{"home/#", "home/+/1", true},
		{"home/#", "home/#", true},
		{"home/#", "home/litter/#", true},
		{"home/#", "home", true},
		{"home/+", "home/a", true},
		{"home/+", "home/+", true},
		{"#", "+/a", true},
		{"home/a", "home/+", false},
		{"home/+", "home/#", false},
		{"home/litter/#", "home/#", false},
		{"home/+", "home/a/b", false},
		{"#", "$SYS/#", false},
		// "home" itself meets the second alone
		{"home/+/#", "home/#", false},
		{"home/+/#", "home/+/+/#", true},
	}
	for _, tt := range tests {
		if got := ingest.Covers(tt.a, tt.b); got != tt.want {
			t.Errorf("%q covers %q: %v, want %v", tt.a, tt.b, got, tt.want)
		}
	}
}

// What a filter covers meets it: any topic that the covered filter meets, the
// covering one meets.
func TestCovers_Match(t *testing.T) {
	filter := rapid.StringMatching(`([ab+]/){0,3}[ab+#]`)
	topic := rapid.StringMatching(`([ab]/){0,4}[ab]`)
	rapid.Check(t, func(t *rapid.T) {
		a, b, x := filter.Draw(t, "a"), filter.Draw(t, "b"), topic.Draw(t, "topic")
		if ingest.Covers(a, b) && ingest.Match(b, x) && !ingest.Match(a, x) {
			t.Fatalf("%q covers %q, and %q meets only the latter", a, b, x)
		}
	})
}

// Two filters overlap where there is a topic that meets both: of all filters of up to
// three levels, and all topics of up to four.
func TestOverlap_Match(t *testing.T) {
	var grow func(levels []string, depth int) []string
	grow = func(levels []string, depth int) (all []string) {
		for _, l := range levels {
			all = append(all, l)
			if depth > 1 && l != "#" {
				for _, rest := range grow(levels, depth-1) {
					all = append(all, l+"/"+rest)
				}
			}
		}
		return all
	}
	filters, topics := grow([]string{"a", "b", "+", "#"}, 3), grow([]string{"a", "b"}, 4)
	for _, a := range filters {
		for _, b := range filters {
			both := slices.ContainsFunc(topics, func(x string) bool { return ingest.Match(a, x) && ingest.Match(b, x) })
			if ingest.Overlap(a, b) != both {
				t.Errorf("%q and %q overlap: %v", a, b, !both)
			}
		}
	}
	if ingest.Overlap("#", "$SYS/a") || !ingest.Overlap("$SYS/#", "$SYS/a") {
		t.Error("a wildcard in front meets what starts with '$'")
	}
}

// A filter made from a topic by putting wildcards in place of levels meets it.
func TestMatch_Wildcards(t *testing.T) {
	level := rapid.StringMatching(`[a-z0-9]{0,4}`)
	rapid.Check(t, func(t *rapid.T) {
		topic := rapid.SliceOfN(level, 1, 6).Draw(t, "levels")
		filter := append([]string{}, topic...)
		for i := range filter {
			if rapid.Bool().Draw(t, "plus") {
				filter[i] = "+"
			}
		}
		if cut := rapid.IntRange(0, len(filter)).Draw(t, "hash"); cut < len(filter) {
			filter = append(filter[:cut], "#")
		}
		f := strings.Join(filter, "/")
		if f == "" {
			return
		}
		if err := ingest.ValidFilter(f); err != nil {
			t.Fatal(err)
		}
		if !ingest.Match(f, strings.Join(topic, "/")) {
			t.Fatalf("%q does not meet %q", f, strings.Join(topic, "/"))
		}
	})
}

func TestValidFilter_Refuses(t *testing.T) {
	for _, f := range []string{"", "a/#/b", "a#", "a/b+", "+a", "##", "$share/g/a", "$SHARE/g/a", "$share", "a\x00", strings.Repeat("x", 65536)} {
		if ingest.ValidFilter(f) == nil {
			t.Errorf("%.20q is accepted", f)
		}
	}
	for _, f := range []string{"#", "+", "/", "a/+/#", "$SYS/#", "$shared/a", "a b/ü"} {
		if err := ingest.ValidFilter(f); err != nil {
			t.Error(err)
		}
	}
}

func TestRouter_Decode(t *testing.T) {
	router, err := ingest.NewRouter(home.Household{Scales: []home.Scale{
		{ID: "box-1", Kind: home.LitterBox, Topic: "home/litter/1"},
		{ID: "bowl", Kind: home.Feeder, Topic: "home/bowl/#", Payload: "number", Unit: "g"},
		{ID: "left", Kind: home.Floor, Topic: "home/pair/+"},
		{ID: "right", Kind: home.Floor, Topic: "home/pair/+"},
		{ID: "by-hand", Kind: home.Floor}, // no topic: it claims none
	}})
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name, topic, payload string
		want                 string // source of the one reading, "" for none
		unclaimed            bool
	}{
		{"claimed", "home/litter/1", `[{"v":4,"u":"kg"}]`, "box-1", false},
		{"claimed by wildcard", "home/bowl/raw", "40", "bowl", false},
		// a topic that two scales claim: the name must say which
		{"two claims, named", "home/pair/x", `[{"n":"right:load","u":"kg","v":4}]`, "right", false},
		{"two claims, not named", "home/pair/x", `[{"n":"load","u":"kg","v":4}]`, "", false},
		{"two claims, another", "home/pair/x", `[{"n":"box-1:load","u":"kg","v":4}]`, "", false},
		// no claim, but a full name
		{"named", "home/else", `[{"n":"box-9:load","u":"kg","v":4}]`, "box-9", false},
		{"named, spaces before", "home/else", "  \n[{\"n\":\"box-9:load\",\"u\":\"kg\",\"v\":4}]", "box-9", false},
		// no claim and no name
		{"not named", "home/else", `[{"n":"load","u":"kg","v":4}]`, "", true},
		{"number", "home/else", "4.5", "", true},
		{"empty", "home/else", "", "", true},
		{"no SenML", "home/else", "[1,2", "", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := router.Decode(ingest.Delivery{Topic: tt.topic, Payload: []byte(tt.payload), Arrived: time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)})
			source := ""
			if len(got) == 1 {
				source = got[0].Source
			}
			if source != tt.want || (err == nil) == (tt.want == "") || errors.Is(err, ingest.ErrUnclaimed) != tt.unclaimed {
				t.Errorf("got %+v, %v", got, err)
			}
		})
	}
}

// What its sender says of a message goes with each of its readings.
func TestRouter_Decode_HowItCame(t *testing.T) {
	router, err := ingest.NewRouter(household)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)
	for _, want := range []struct{ resent, retained bool }{{false, false}, {true, false}, {false, true}, {true, true}} {
		for topic, body := range map[string]string{"home/litter/1": `[{"v":4,"u":"kg","t":1740960000}]`, "home/litter/2": "4.5"} {
			d := ingest.Delivery{Topic: topic, Payload: []byte(body), Arrived: now, Resent: want.resent, Retained: want.retained}
			got, err := router.Decode(d)
			if want.retained && len(got) == 0 { // a number says not when it was true
				continue
			}
			if err != nil || len(got) != 1 || got[0].Resent != want.resent || got[0].Retained != want.retained {
				t.Errorf("%s: %+v, %v", topic, got, err)
			}
		}
	}
}

// What was set aside is read when a scale claims its topic, as of when it came.
func TestAgain(t *testing.T) {
	then := time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)
	router, err := ingest.NewRouter(household)
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name  string
		aside home.SetAside
		ok    bool
	}{
		{"claimed now", home.SetAside{Way: ingest.WayMQTT, Topic: "home/litter/2/x", Payload: []byte("4.5")}, true},
		{"not yet", home.SetAside{Way: ingest.WayMQTT, Topic: "home/else", Payload: []byte("4.5")}, false},
		{"CSV from a device's topic", home.SetAside{Way: ingest.WayMQTT, Topic: "home/else", Payload: []byte("time,source,quantity,value\n2025-03-03T00:00:00Z,box-1,load,4\n")}, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.aside.Arrived = then
			got, err := router.Decode(ingest.Again(tt.aside))
			if (err == nil) != tt.ok || tt.ok && (len(got) != 1 || !got[0].Time.Equal(then) || !got[0].Arrived.Equal(then)) {
				t.Errorf("%+v, %v", got, err)
			}
		})
	}
}

func TestRouter_Claimants(t *testing.T) {
	router, err := ingest.NewRouter(household)
	if err != nil {
		t.Fatal(err)
	}
	if got := router.Claimants("home/litter/2/raw"); len(got) != 1 || got[0].ID != "box-2" {
		t.Errorf("%+v", got)
	}
	if got := router.Claimants("home/else"); len(got) != 0 {
		t.Errorf("%+v", got)
	}
	if s, ok := router.Scale("box-2"); !ok || s.Payload != "number" {
		t.Errorf("%+v", s)
	}
}

func TestRouter_SetHousehold_Refused(t *testing.T) {
	router, err := ingest.NewRouter(household)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []home.Scale{
		{ID: "x", Topic: "$share/g/home/litter/1"},
		{ID: "x", Topic: "home/#", Payload: "xml"},
		{ID: "x", Topic: "home/#", Payload: "json:weight"},
	} {
		if router.SetHousehold(home.Household{Scales: []home.Scale{s}}) == nil {
			t.Errorf("%+v is accepted", s)
		}
	}
	// what was there before goes on
	if got, err := router.Decode(ingest.Delivery{Topic: "home/litter/2", Payload: []byte("4"), Arrived: time.Now()}); err != nil || len(got) != 1 {
		t.Errorf("%v, %v", got, err)
	}
}
