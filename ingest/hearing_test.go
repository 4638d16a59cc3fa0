package ingest_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"weighbeam/home"
	"weighbeam/ingest"
)

var morning = time.Date(2025, 3, 3, 7, 0, 0, 0, time.UTC)

func heard(topic, payload string, at time.Duration) ingest.Delivery {
	return ingest.Delivery{Way: ingest.WayMQTT, Topic: topic, Payload: []byte(payload), Arrived: morning.Add(at)}
}

// Rate and gap are of each topic alone.
func TestHearing_RateAndGap(t *testing.T) {
	h := ingest.NewHearing()
	for i := range 5 {
		h.Hear(heard("slow", "x", time.Duration(i)*10*time.Second), nil, errors.New("no"))
		h.Hear(heard("fast", "4", time.Duration(i)*200*time.Millisecond), []home.Reading{{Value: 4}}, nil)
	}
	last := h.Hear(heard("fast", "4", 3*time.Second), []home.Reading{{Value: 4}}, nil)
	if last.Gap != 2200*time.Millisecond || last.PerSecond != 5.0/3 || last.ID != 11 {
		t.Errorf("%+v", last)
	}
	speakers, all := h.Speakers("#")
	if all != 2 || speakers[0].Topic != "slow" || speakers[0].Bad != 5 || speakers[0].Longest != 10*time.Second || speakers[0].PerSecond != 0.1 {
		t.Errorf("%d: %+v", all, speakers)
	}
	if one, _ := h.Speakers("fast"); len(one) != 1 || one[0].Count != 6 || one[0].Bad != 0 {
		t.Errorf("%+v", one)
	}
}

// Whoever follows gets each message once, in order, and no more than is kept.
func TestHearing_After(t *testing.T) {
	h := ingest.NewHearing()
	_, last, changed := h.After(0, "#", 10)
	if last != 0 {
		t.Errorf("heard %d before anything", last)
	}
	for i := range 300 {
		h.Hear(heard(fmt.Sprintf("t/%d", i%2), "x", 0), nil, nil)
	}
	select {
	case <-changed:
	default:
		t.Error("who waits was not told")
	}
	list, last, _ := h.After(290, "t/1", 100)
	if last != 300 || len(list) != 5 || list[0].ID != 292 || list[4].ID != 300 {
		t.Errorf("last %d, %+v", last, list)
	}
	if list, _, _ = h.After(0, "#", 10); len(list) != 10 || list[0].ID != 291 {
		t.Errorf("the newest ten are %d from %d on", len(list), list[0].ID)
	}
	if list, _, _ = h.After(0, "#", 1000); len(list) != 256 || list[0].ID != 45 {
		t.Errorf("kept %d", len(list))
	}
}

// Whatever arrives, what is remembered stays small.
func TestHearing_IsBounded(t *testing.T) {
	h := ingest.NewHearing()
	for i := range 20_000 {
		m := h.Hear(heard(fmt.Sprint(i), strings.Repeat("x", 10_000), 0), make([]home.Reading, 100), errors.New(strings.Repeat("y", 10_000)))
		if len(m.Payload) > 1000 || m.Bytes != 10_000 || len(m.Readings)+m.More != 100 || m.More < 50 || len(m.Why) > 1000 {
			t.Fatalf("%d bytes and %d readings are kept of a message, and %d bytes of why", len(m.Payload), len(m.Readings), len(m.Why))
		}
	}
	if list, all := h.Speakers("#"); all >= 20_000 || len(list) > 1000 {
		t.Errorf("%d topics, %d listed", all, len(list))
	}
}

// Topics as long as MQTT has them are not held, neither whole nor behind what is shown
// of them, nor is a character cut in two.
func TestHearing_LongTopics(t *testing.T) {
	h := ingest.NewHearing()
	held := func() int64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int64(m.HeapAlloc)
	}
	before := held()
	for i := range 600 {
		m := h.Hear(heard(fmt.Sprintf("home/%d/x%s", i, strings.Repeat("ü", 30_000)), "1", 0), nil, nil)
		if len(m.Topic) > 256 || !utf8.ValidString(m.Topic) || !strings.HasPrefix(m.Topic, fmt.Sprintf("home/%d/xüü", i)) {
			t.Fatalf("heard on %.20q, of %d bytes", m.Topic, len(m.Topic))
		}
	}
	if grown := held() - before; grown > 4<<20 { // the topics alone are 36 MB
		t.Errorf("600 long topics hold %d bytes", grown)
	}
	if list, all := h.Speakers("home/+/#"); all != 600 || len(list[0].Topic) > 256 {
		t.Errorf("%d topics", all)
	}
	short := "home/" + strings.Repeat("x", 251)
	if m := h.Hear(heard(short, "1", 0), nil, nil); m.Topic != short {
		t.Errorf("a topic of 256 bytes became one of %d", len(m.Topic))
	}
}

// The committer tells of everything that comes, understood or not, but not of what
// is tried again.
func TestAppender_TellsTheHearing(t *testing.T) {
	h := ingest.NewHearing()
	router, err := ingest.NewRouter(home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.Floor, Topic: "a", Payload: "number"}}})
	if err != nil {
		t.Fatal(err)
	}
	a := ingest.NewAppender(newFakeStore(), router, ingest.Options{Hearing: h})
	for _, d := range []ingest.Delivery{
		heard("a", "4.5", 0), heard("b", "4.5", 0),
		{Way: ingest.WayHTTP, Topic: "/api", Arrived: morning, Ready: &home.Batch{Readings: []home.Reading{{}}, SetAside: []home.SetAside{{Reason: "half"}}}},
		{Way: ingest.WayMQTT, Topic: "a", Payload: []byte("5"), Arrived: morning, Again: 7},
	} {
		if err := a.Deliver(t.Context(), d); err != nil {
			t.Fatal(err)
		}
	}
	ended, end := context.WithCancel(t.Context())
	end()
	if err := a.Run(ended); err != nil { // it still commits what waits
		t.Fatal(err)
	}
	list, _, _ := h.After(0, "#", 10)
	if len(list) != 3 || list[0].Readings[0].Value != 4.5 || list[0].Why != "" || list[1].Why != ingest.ErrUnclaimed.Error() || list[2].Why != "half" || len(list[2].Readings) != 1 {
		t.Errorf("%+v", list)
	}
}

// What is heard holds neither the packet it came in nor the room for a pack of which
// little was understood: thousands of messages are remembered.
func TestHearing_HoldsNothingElse(t *testing.T) {
	h := ingest.NewHearing()
	packet := make([]byte, 1<<20)
	for _, understood := range [][]home.Reading{make([]home.Reading, 1, 100_000), make([]home.Reading, 5_000), make([]home.Reading, 1)} {
		m := h.Hear(ingest.Delivery{Topic: "a", Payload: packet[:10]}, understood, nil)
		if len(m.Readings)+m.More != len(understood) || cap(m.Readings) > 16 {
			t.Errorf("of %d readings %d are shown, in room for %d, %d more", len(understood), len(m.Readings), cap(m.Readings), m.More)
		}
		if len(m.Payload) != 10 || cap(m.Payload) > 100 {
			t.Errorf("a payload of 10 bytes holds %d", cap(m.Payload))
		}
	}
}
