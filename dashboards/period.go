package dashboards

import (
	"net/url"
	"time"
)

// period is a stretch of time that a chart shows. From is zero for all there is.
type period struct {
	Key      string // as it stands in the address
	Words    string
	From, To time.Time
	wrong    string // why it is not what was asked for
}

var periodKeys = []struct {
	key, words string
	days       int
}{
	{"6w", "6 weeks", 42},
	{"6m", "6 months", 183},
	{"1y", "a year", 365},
	{"3y", "3 years", 1096},
	{"all", "everything", 0},
}

const usualPeriod = "6m"

// periodOf reads a period from an address: "period" by its key, or "from" and
// "to" as dates. What cannot be read is the usual period.
func periodOf(q url.Values, now time.Time, zone *time.Location) period {
	from, errFrom := time.ParseInLocation(time.DateOnly, q.Get("from"), zone)
	to, errTo := time.ParseInLocation(time.DateOnly, q.Get("to"), zone)
	if errFrom == nil && errTo == nil && from.Before(to) {
		return period{Words: from.Format("2 Jan 2006") + " to " + to.Format("2 Jan 2006"), From: from, To: to.AddDate(0, 0, 1)}
	}
	return periodNamed(q.Get("period"), now)
}

func periodNamed(key string, now time.Time) period {
	for _, k := range periodKeys {
		if k.key != key {
			continue
		}
		p := period{Key: k.key, Words: k.words, To: now}
		if k.days > 0 {
			p.From = now.AddDate(0, 0, -k.days)
		}
		return p
	}
	return periodNamed(usualPeriod, now)
}

func (p period) holds(t time.Time) bool { return !t.Before(p.From) && t.Before(p.To.Add(time.Second)) }

// query is the part of an address that asks for the period again.
func (p period) query() string {
	if p.Key != "" {
		return "period=" + p.Key
	}
	return "from=" + p.From.Format(time.DateOnly) + "&to=" + p.last().Format(time.DateOnly)
}

// periodLink is one choice of the switch above the charts.
type periodLink struct {
	Key, Words string
	Current    bool
}

func periodLinks(current string) []periodLink {
	var links []periodLink
	for _, k := range periodKeys {
		links = append(links, periodLink{k.key, k.words, k.key == current})
	}
	return links
}
