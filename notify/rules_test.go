package notify

import (
	"testing"
	"time"

	"weighbeam/home"
)

func TestChannel_Words(t *testing.T) {
	for _, tt := range []struct {
		c    Channel
		want string
	}{
		// No rule at all.
		{Channel{}, "everything"},
		// The least urgency that there is leaves nothing out.
		{Channel{Least: home.Mention}, "everything"},
		{Channel{Least: home.Today}, "what needs a call today or is more urgent"},
		// Nothing is more urgent than now.
		{Channel{Least: home.Now}, "only what says to go now"},
		// A second person.
		{Channel{After: 2 * time.Hour}, "everything, but only if nobody has reacted after 2 hours"},
		// A stand-in is not asked about reactions.
		{Channel{After: 90 * time.Minute, For: "ada"}, "everything, but only what ada has not taken after 90 minutes"},
		{Channel{After: day}, "everything, but only if nobody has reacted after 1 day"},
		// Every rule at once.
		{Channel{Least: home.Book, Digest: Digest{On: true, At: 8 * 60}, Quiet: Quiet{From: 22 * 60, To: 7 * 60}},
			"what needs an appointment or is more urgent, what can wait at 08:00, between 22:00 and 07:00 only what is urgent"},
	} {
		if got := tt.c.Words(); got != tt.want {
			t.Errorf("%+v:\n%s\nwant\n%s", tt.c, got, tt.want)
		}
	}
}
