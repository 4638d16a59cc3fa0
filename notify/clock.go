package notify

import (
	"context"
	"time"

	"weighbeam/home"
)

// clockWatch notices that the wall clock was set back while the program ran.
type clockWatch struct {
	read func() time.Time
	last time.Time
}

func newClockWatch(read func() time.Time) *clockWatch {
	return &clockWatch{read: read, last: read()}
}

// setBack reports whether the wall clock shows less than at the last call.
func (c *clockWatch) setBack() bool {
	t := c.read()
	// Round strips the monotonic reading, which is never set back.
	back := t.Round(0).Before(c.last.Round(0))
	c.last = t
	return back
}

// mend brings forward the notices that were dated by a clock that ran ahead:
// otherwise they would wait until the right clock shows that date. A hold by a
// rule, and a pause before the next try, keep their length. It returns false where
// the store failed before all of them were.
func (s *Sender) mend(ctx context.Context) (all bool) {
	notices, err := s.store.Notices(ctx, "")
	if err != nil {
		s.trouble(ctx, "look for notices with a wrong date", err)
		return false
	}
	now := s.opts.Now()
	for _, n := range notices {
		due, why := mended(n, now)
		if why == "" {
			continue
		}
		n.Due, n.Decided, n.Reason = due, now.UTC(), why
		s.opts.Log.Warn("the date of a notice was wrong", "notice", n.ID, "why", why)
		if err := s.store.SettleNotice(ctx, n); err != nil {
			s.trouble(ctx, "settle a notice", err)
			return false
		}
	}
	return true
}

// The reasons for which the date of a notice is another than it was.
const (
	reasonAhead   = "Dated by a clock that ran ahead: moved to when it is due by the right one."
	reasonUndated = "It waited without a date: due at once."
)

// mended is when n is due by the right clock, and why its date is wrong; "" where it is not.
func mended(n home.Notice, now time.Time) (due time.Time, why string) {
	dated := n.Decided
	if dated.IsZero() {
		dated = n.Created
	}
	switch {
	case n.State != home.Waiting:
		return n.Due, ""
	case n.Due.IsZero():
		return now, reasonUndated
	case dated.After(now.Add(time.Minute)):
		if due = now.Add(n.Due.Sub(dated)); due.Before(n.Due) && n.Due.After(now) {
			return due, reasonAhead
		}
	}
	return n.Due, ""
}
