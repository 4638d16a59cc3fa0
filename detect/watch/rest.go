package watch

import "time"

// rest sleeps until something is to be stepped or settled.
func (m *member) rest() {
	if m.stale {
		m.wake = time.Time{}
		return
	}
	m.wake = endOfTime
	if m.next < m.seen.len() {
		m.wake = m.seen.time(m.next)
	}
	for _, since := range m.doubt {
		m.wake = earlier(m.wake, since.Add(Doubt))
	}
	for _, at := range [...]time.Time{m.due, m.ahead} {
		if !at.IsZero() {
			m.wake = earlier(m.wake, at)
		}
	}
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}
