package app

import (
	"context"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

// shifted lets the sender, which lives by the machine's clock, serve a house
// whose clock runs otherwise, as that of a demo does.
type shifted struct {
	notify.Store
	now func() time.Time
}

// ahead is by how much the house's clock is ahead of the machine's at this moment.
func (s shifted) ahead() time.Duration { return time.Until(s.now()) }

// DueNotices returns what is due by the clock of the house, with its times on
// the machine's clock.
func (s shifted) DueNotices(ctx context.Context, now time.Time, limit int) ([]home.Notice, error) {
	ahead := s.ahead()
	due, err := s.Store.DueNotices(ctx, now.Add(ahead), limit)
	for i := range due {
		due[i].Created, due[i].Due = due[i].Created.Add(-ahead), due[i].Due.Add(-ahead)
	}
	return due, err
}

// NextDue returns a time on the machine's clock.
func (s shifted) NextDue(ctx context.Context) (time.Time, bool, error) {
	t, ok, err := s.Store.NextDue(ctx)
	return t.Add(-s.ahead()), ok, err
}

// SettleNotice keeps times on the clock of the house.
func (s shifted) SettleNotice(ctx context.Context, n home.Notice) error {
	ahead := s.ahead()
	if !n.Sent.IsZero() {
		n.Sent = n.Sent.Add(ahead)
	}
	if !n.Due.IsZero() && n.State == home.Waiting {
		n.Due = n.Due.Add(ahead)
	}
	return s.Store.SettleNotice(ctx, n)
}
