package app

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// Somebody who is added while the program runs, in a house where nobody has a digest
// yet, gets theirs at the next hour without a restart.
func TestDigester_ContactAddedLater_IsSentIt(t *testing.T) {
	r, now := newReceiver(t), time.Date(2025, 6, 1, 6, 0, 0, 0, time.UTC)
	h := home.Household{Zone: "UTC", Cats: []home.Cat{{ID: "plum", Name: "Plum"}}}
	l := startLive(t, h, now)
	h.Contacts = []home.Contact{{ID: "ada", Way: home.ByWebhook, Digest: "08:00"}}
	if err := l.changer.change(t.Context(), became(h), store.Secret{Contact: "ada", Text: r.URL}); err != nil {
		t.Fatal(err)
	}
	waits(t, "the digest is begun", func() bool {
		c, err := l.store.Cursor(t.Context(), "digest/ada")
		return err == nil && c.Tick.Equal(now)
	})
	later := now.Add(2 * time.Hour)
	l.clock.Store(&later)
	waits(t, "it comes", func() bool {
		took := r.took()
		return len(took) == 1 && strings.Contains(took[0], "daily/")
	})
}
