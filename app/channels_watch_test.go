package app

import (
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

func TestChannelTurn(t *testing.T) {
	at := func(m int) time.Time { return noon.Add(time.Duration(m) * time.Minute) }
	open := home.Finding{Source: home.ChannelSource("ada"), Sign: home.ChannelFailing, Urgency: home.Book, Raised: at(0)}
	urgent := open
	urgent.Urgency = home.Today
	down := notify.ChannelHealth{Channel: "ada", Failed: at(59), Since: at(0), InARow: 9, Why: "it answered HTTP 503"}
	lost := down
	lost.Lost = true
	for _, row := range []struct {
		name   string
		h      notify.ChannelHealth
		f      *home.Finding
		minute int
		want   home.Turn // "": none
		urgent home.Urgency
	}{
		{"well", notify.ChannelHealth{Took: at(0)}, nil, 600, "", ""},
		{"never tried", notify.ChannelHealth{}, nil, 600, "", ""},
		// A receiver that is restarted is no finding.
		{"down for a moment", down, nil, 59, "", ""},
		{"down for an hour", down, nil, 60, home.Raised, home.Book},
		// What could not wait was not told.
		{"an urgent notice given up", lost, nil, 1, home.Raised, home.Today},
		{"still down", down, &open, 600, "", ""},
		{"gives up an urgent one meanwhile", lost, &open, 90, home.Worsened, home.Today},
		{"and is known for that", lost, &urgent, 90, "", ""},
		{"takes one again", notify.ChannelHealth{Took: at(70), Failed: at(60)}, &open, 71, home.Closed, home.Book},
		// After a start nothing is known of it: no data never closes anything.
		{"nothing since the start", notify.ChannelHealth{}, &open, 71, "", ""},
		{"took one before it was found", notify.ChannelHealth{Took: at(-5)}, &open, 71, "", ""},
	} {
		f := home.Finding{}
		if row.f != nil {
			f = *row.f
		}
		got, turned := channelTurn(row.h, f, row.f != nil, at(row.minute))
		if turned != (row.want != "") || got.Turn != row.want || got.Finding.Urgency != row.urgent {
			t.Errorf("%s: %s %s, want %s %s", row.name, got.Turn, got.Finding.Urgency, row.want, row.urgent)
		}
	}
}
