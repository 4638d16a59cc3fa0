package notify

import (
	"fmt"
	"time"

	"weighbeam/home"
)

// Owed is what one turn of a finding owes, decided at now, which may be much
// later than the turn where a history is read in. It returns one notice for
// each channel, waiting or withheld with the reason, and one for each reminder
// that will be due while the finding stands. With no channel it is one withheld
// notice on [Page]. The same turn gives the same ids whenever it is decided.
func (p Policy) Owed(t home.Transition, now time.Time) []home.Notice {
	now = now.UTC().Truncate(home.TimeStep)
	if len(p.Channels) == 0 {
		n := p.draft(t, Page, now, now)
		n.State, n.Reason = home.Withheld, ReasonNobody
		return []home.Notice{n}
	}
	var owed []home.Notice
	for _, c := range p.Channels {
		n := p.draft(t, c.Name, now, now)
		d := p.decide(c, t, now)
		n.State, n.Reason, n.Due = d.state, d.reason, d.due
		owed = append(append(owed, n), p.reminders(c, t, now)...)
	}
	return owed
}

// draft is the notice before anything is decided about it. Its link to answer by
// is for one that is due at due: a reminder has a link of its own.
func (p Policy) draft(t home.Transition, channel string, now, due time.Time) home.Notice {
	reply := ""
	if p.Reply != nil && channel != Page && t.Turn != home.Closed {
		reply = p.Reply(t.Finding.ID(), channel, due)
	}
	return home.Notice{
		ID:      noticeID(t.Finding.ID(), t.Turn, t.At, channel),
		Finding: t.Finding.ID(),
		Turn:    t.Turn,
		Urgency: t.Finding.Urgency,
		Channel: channel,
		Subject: Subject(t.Finding, p.cat(t.Finding), t.Turn),
		Body:    p.Words.body(t.Finding, p.cat(t.Finding), t.Turn, reply),
		Created: now,
	}
}

// cat is the cat that f is about, with its id for a name where the household
// does not know it; the zero Cat where f is about a scale.
func (p Policy) cat(f home.Finding) home.Cat {
	if c, ok := p.House.Cat(f.Cat); ok {
		return c
	}
	return home.Cat{ID: f.Cat, Name: f.Cat}
}

func noticeID(finding string, turn home.Turn, at time.Time, channel string) string {
	return fmt.Sprintf("%s/%s/%s/%s", finding, turn, at.UTC().Format("20060102T150405.000000Z"), channel)
}

// reminders are the notices that remind the people of c of a finding whose
// urgency is new. They wait; [Gate] withholds those no longer needed. Somebody
// who is only told when others did not react is not reminded as well.
func (p Policy) reminders(c Channel, t home.Transition, now time.Time) []home.Notice {
	news := t.Turn == home.Raised || t.Turn == home.Worsened || t.Turn == home.Eased
	if channel, ok := home.ChannelOf(t.Finding); ok && channel == c.Name {
		return nil
	}
	if !news || c.After > 0 || t.Finding.Urgency.Rank() < c.Least.Rank() {
		return nil
	}
	told := t
	told.Turn = home.Reminded
	var owed []home.Notice
	for _, pause := range p.Reminders[t.Finding.Urgency] {
		n := p.draft(told, c.Name, now, now.Add(pause))
		n.ID = noticeID(n.Finding, home.Reminded, t.At.Add(pause), c.Name)
		n.State, n.Reason, n.Due = home.Waiting, ReasonReminder, c.awake(t.Finding, now.Add(pause))
		owed = append(owed, n)
	}
	return owed
}
