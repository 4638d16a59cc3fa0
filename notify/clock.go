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

// longestPause is longer than any pause between two tries can be.
const longestPause = 3 * time.Hour

// mend brings forward the notices that were dated by a clock that ran ahead:
// otherwise they would wait until the right clock shows that date. A hold by a
// rule keeps its length.
func (s *Sender) mend(ctx context.Context) {
	all, err := s.store.Notices(ctx, "")
	if err != nil {
		s.trouble(ctx, "look for notices with a wrong date", err)
		return
	}
	now := s.opts.Now()
	for _, n := range all {
		due, wrong := mended(n, now)
		if !wrong {
			continue
		}
		n.Due, n.Decided = due, now.UTC()
		n.Reason = "Dated by a clock that ran ahead: moved to when it is due by the right one."
		s.opts.Log.Warn("a notice was dated by a clock that ran ahead", "notice", n.ID)
		if err := s.store.SettleNotice(ctx, n); err != nil {
			s.trouble(ctx, "settle a notice", err)
			return
		}
	}
}

// mended is when n is due by the right clock, and whether its date is wrong.
func mended(n home.Notice, now time.Time) (time.Time, bool) {
	switch {
	case n.State != home.Waiting:
		return n.Due, false
	case n.Created.After(now.Add(time.Minute)):
		due := now.Add(n.Due.Sub(n.Created))
		return due, due.Before(n.Due)
	case n.Attempts > 0 && n.Due.After(now.Add(longestPause)):
		return now, true
	}
	return n.Due, false
}
