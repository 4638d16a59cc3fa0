package dashboards

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"slices"
	"time"

	"weighbeam/home"
)

// recent is how far back the house page lists notices, and setAsideShown how
// many set-aside payloads are counted and listed at most.
const (
	recent        = 7 * 24 * time.Hour
	setAsideShown = 500
)

type houseView struct {
	Headline      string
	Cats          []catCard
	Sources       []sourceRow
	Goods         bool // of some scale it is known how good it is
	Batteries     bool // some device says how its battery is
	ScaleFindings []findingLine
	Channels      bool // some of these are about channels
	Notices       []noticeRow
	Planned       string // notices that wait for a day after tomorrow, "" for none
	SetAside      string // "" for none
	Unclaimed     string // topics that no scale claims, "" for none
	Unclear       []unclearRow
	Strangers     *strangersView // nil where everybody who is heard of is known
	Host, Port    string
	Edit          bool // the household can be changed on its page
}

// noticeRow is a notice and the time that matters of it: when it was sent, when
// it is due, or when it was decided.
type noticeRow struct {
	home.Notice
	When time.Time
}

func (p *pages) house(r *http.Request) (view, error) {
	ctx, now := r.Context(), p.opts.Now()
	h, err := p.store.Household(ctx)
	if err != nil {
		return view{}, err
	}
	host, port := split(p.opts.Broker)
	v := houseView{Host: host, Port: port, Edit: p.opts.Householder != nil}
	open, err := p.store.Findings(ctx, true, time.Time{})
	if err != nil {
		return view{}, err
	}
	for _, c := range h.Cats {
		card, err := p.card(ctx, h, c, open, now)
		if err != nil {
			return view{}, err
		}
		v.Cats = append(v.Cats, card)
	}
	// Who needs somebody comes first; otherwise the household's own order.
	slices.SortStableFunc(v.Cats, func(a, b catCard) int { return b.Urgency.Rank() - a.Urgency.Rank() })
	for _, f := range open {
		if f.Cat == "" {
			v.ScaleFindings = append(v.ScaleFindings, lineOf(f))
			_, channel := home.ChannelOf(f)
			v.Channels = v.Channels || channel
		}
	}
	v.Headline = headline(v.Cats, thing(v))
	if err := p.rest(ctx, h, now, &v); err != nil {
		return view{}, err
	}
	return view{"house.html", "The house", v}, nil
}

func split(addr string) (host, port string) {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return addr, "1883"
	}
	return host, port
}

// rest gathers what stands under the cats.
func (p *pages) rest(ctx context.Context, h home.Household, now time.Time, v *houseView) error {
	sources, err := p.store.Sources(ctx)
	if err != nil {
		return err
	}
	v.Sources = sourceRows(h, sources, now)
	for i := range v.Sources {
		row := &v.Sources[i]
		if row.Good, err = p.goodTo(ctx, row.ID); err != nil {
			return err
		}
		v.Goods, v.Batteries = v.Goods || row.Good != "", v.Batteries || row.Battery != ""
	}
	notices, err := p.store.Notices(ctx, "")
	if err != nil {
		return err
	}
	v.Notices, v.Planned = soon(noticeRows(notices), now)
	aside, err := p.store.SetAsides(ctx, setAsideShown)
	if err != nil {
		return err
	}
	unclaimed := len(slices.DeleteFunc(slices.Clone(aside), func(s home.SetAside) bool { return !s.Latest }))
	if v.Unclear, err = p.unclear(ctx, h, now); err != nil {
		return err
	}
	if v.Strangers, err = p.strangers(ctx, h, sources, now); err != nil {
		return err
	}
	v.SetAside = howMany(len(aside)-unclaimed, "message", len(aside))
	v.Unclaimed = howMany(unclaimed, "topic", len(aside))
	return nil
}

// howMany counts n things; it says "or more" where the list they were counted
// in, of length all, was cut.
func howMany(n int, word string, all int) string {
	switch {
	case n == 0:
		return ""
	case all == setAsideShown:
		return fmt.Sprintf("%d or more %ss", n, word)
	}
	return plural(n, word)
}

// thing is what needs a look besides the cats, "" for nothing.
func thing(v houseView) string {
	switch {
	case len(v.ScaleFindings) == 0:
		return ""
	case v.Channels:
		return "a scale or a channel"
	}
	return "a scale"
}

// headline answers whether somebody has to do something. It never says that a
// cat is well: it says what was found, and that more is unknown where it is.
// The cats come in the order of their urgency.
func headline(cats []catCard, what string) string {
	n, unknown, blind := 0, 0, 0
	for _, c := range cats {
		if len(c.Open) > 0 {
			n++
		}
		if !c.Weight.Known && !c.Asleep.Known {
			blind++
		}
		unknown += len(c.Unknown)
	}
	now, today := namesAt(cats, home.Now), namesAt(cats, home.Today)
	switch {
	case now != "" && today != "":
		return now + ": go to a vet now. Call the practice today about " + today + "."
	case now != "":
		return now + ": go to a vet now."
	case today != "":
		return "Call the practice today about " + today + "."
	case n == 0 && blind > 0 && blind == len(cats):
		return "Not enough is known yet to find anything."
	case n == 1:
		return cats[0].Name + " needs a look."
	case n == 0 && what != "":
		return "Nothing was found about the cats, but " + what + " needs a look."
	case n == 0 && unknown > 0:
		return "Nothing was found, but not everything is known."
	case n == 0:
		return "Nothing was found that needs you."
	}
	return fmt.Sprintf("%d of %s need a look.", n, plural(len(cats), "cat"))
}

// namesAt are the cats of that urgency, "" for none.
func namesAt(cats []catCard, u home.Urgency) string {
	var names []string
	for _, c := range cats {
		if c.Urgency == u {
			names = append(names, c.Name)
		}
	}
	return joined(names)
}

func noticeRows(all []home.Notice) []noticeRow {
	rows := make([]noticeRow, 0, len(all))
	for _, n := range all {
		when := n.Created
		switch {
		case !n.Sent.IsZero():
			when = n.Sent
		case n.State == home.Waiting && !n.Due.IsZero():
			when = n.Due
		}
		rows = append(rows, noticeRow{n, when})
	}
	return rows
}

// soon keeps the notices of the last days and of tomorrow, newest first, and
// counts those that wait longer: reminders that may never be needed.
func soon(rows []noticeRow, now time.Time) (near []noticeRow, planned string) {
	later := 0
	for _, r := range rows {
		switch {
		case r.When.After(now.Add(24 * time.Hour)):
			later++
		case r.When.After(now.Add(-recent)):
			near = append(near, r)
		}
	}
	slices.SortStableFunc(near, func(a, b noticeRow) int { return b.When.Compare(a.When) })
	return near, howMany(later, "reminder", 0)
}
