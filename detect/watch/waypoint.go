package watch

import (
	"time"

	"weighbeam/detect"
)

// waypoint is a cat's monitor as it stood before the observation next of the past was
// stepped. What is learned later of an observation from there on changes nothing of it.
type waypoint struct {
	next    int
	at      time.Time // of the observation before it
	due     time.Time
	monitor *detect.Monitor
}

// waypointEvery is how far apart waypoints are at least: to leave one takes as long as to
// step some days.
const waypointEvery = 4 * 24 * time.Hour

// mark leaves a waypoint where the last one is further behind than what is still to be
// stepped up to reached. So they come closer the nearer they are to it, and what is made
// anew because of something a while ago is stepped from at most about twice as long ago,
// however long the history. Only a cat that is made anew leaves any.
func (m *member) mark(reached time.Time) {
	monitor, ok := m.monitor.(*detect.Monitor)
	if !ok || m.next == 0 {
		return // a scale's silence is of two months, and quick
	}
	at := m.seen.time(m.next - 1)
	if n := len(m.waypoints); n > 0 && at.Sub(m.waypoints[n-1].at) < max(waypointEvery, reached.Sub(at)) {
		return
	}
	m.thin(reached)
	m.waypoints = append(m.waypoints, waypoint{m.next, at, m.due, monitor.Clone()})
}

// thin lets go of waypoints that, since they grew old, are closer than they need be.
func (m *member) thin(reached time.Time) {
	kept := m.waypoints[:0]
	for i, p := range m.waypoints {
		if n := len(kept); n > 0 && i+1 < len(m.waypoints) {
			after := m.waypoints[i+1].at
			if after.Sub(kept[n-1].at) < max(waypointEvery, reached.Sub(after)) {
				continue
			}
		}
		kept = append(kept, p)
	}
	clear(m.waypoints[len(kept):])
	m.waypoints = kept
}

// changed says that the past is another from the observation i on.
func (m *member) changed(i int) {
	n := len(m.waypoints)
	for n > 0 && m.waypoints[n-1].next > i {
		n--
	}
	clear(m.waypoints[n:])
	m.waypoints = m.waypoints[:n]
}

// back goes back to the last waypoint, or to the start.
func (m *member) back() {
	if n := len(m.waypoints); n > 0 {
		p := m.waypoints[n-1]
		m.monitor, m.next, m.due = p.monitor.Clone(), p.next, p.due
		return
	}
	m.monitor, m.next, m.due = m.anew(), 0, time.Time{}
}
