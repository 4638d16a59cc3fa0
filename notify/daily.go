package notify

import (
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// Day is what a daily digest tells of.
type Day struct {
	Since    time.Time // of the digest before
	Outlooks []home.Outlook
	Findings []home.Finding // those that are open, and those that were closed after Since
	Sources  []home.SourceStatus
	Checks   map[string]time.Time // newest home check of each cat; absent for never
	Exams    map[string]time.Time // newest visit to the practice of each cat; absent where nobody entered one
	Troubles []string             // what keeps notices from people, full sentences
}

// unseenAfter is how long ago the last weighing may be before a digest says
// that a cat was not weighed, and a source that it was silent. It is a choice
// of this program; the findings not-seen and scale-silent have learned limits.
const unseenAfter = 36 * time.Hour

// Daily is the digest of c that falls at at, made at now. It is of no finding.
// Made twice for one time, it has the same id.
func (p Policy) Daily(c Channel, d Day, at, now time.Time) home.Notice {
	now = now.UTC().Truncate(home.TimeStep)
	date := at.In(zoneOr(c.Digest.Zone)).Format(time.DateOnly)
	return home.Notice{
		ID: "daily/" + date + "/" + c.Name, Turn: home.Daily, Urgency: home.Mention, Channel: c.Name,
		Subject: p.dailySubject(d), Body: p.dailyBody(d, now),
		Created: now, State: home.Waiting, Reason: ReasonDaily, Due: later(at, now).UTC(),
	}
}

// dailySubject never says that all is well: nothing found is not health.
func (p Policy) dailySubject(d Day) string {
	open := 0
	for _, f := range d.Findings {
		if f.Open() {
			open++
		}
	}
	switch open {
	case 0:
		return "Today: nothing found"
	case 1:
		return "Today: 1 open finding"
	}
	return fmt.Sprintf("Today: %d open findings", open)
}

func (p Policy) dailyBody(d Day, now time.Time) string {
	sections := []struct {
		title string
		lines []string
	}{
		{"What changed", p.changed(d)},
		{"Still open", p.stillOpen(d)},
		{"Nothing found", p.nothingFound(d, now)},
		{"Not weighed or not heard", p.unseen(d, now)},
		{"What is due", p.due(d, now)},
		{"What does not work", d.Troubles},
		{"Not known yet", p.unknown(d)},
	}
	var b strings.Builder
	for _, s := range sections {
		if len(s.lines) > 0 {
			b.WriteString(s.title + ":\n- " + strings.Join(s.lines, "\n- ") + "\n\n")
		}
	}
	if p.Words.Base != "" {
		b.WriteString("Where to look: " + strings.TrimSuffix(p.Words.Base, "/") + "/\n\n")
	}
	return b.String() + home.Caution + "\n"
}

// changed are the findings that began or ended since the last digest.
func (p Policy) changed(d Day) (lines []string) {
	for _, f := range d.Findings {
		switch {
		case !f.Open() && f.Closed.After(d.Since):
			lines = append(lines, Subject(f, p.cat(f), home.Closed))
		case f.Open() && f.Raised.After(d.Since):
			lines = append(lines, "New. "+Subject(f, p.cat(f), home.Raised))
		}
	}
	return lines
}

func (p Policy) stillOpen(d Day) (lines []string) {
	for _, f := range d.Findings {
		if f.Open() && !f.Raised.After(d.Since) {
			lines = append(lines, fmt.Sprintf("%s Since %s.", Subject(f, p.cat(f), home.Raised), p.Words.date(f.Raised)))
		}
	}
	return lines
}

// nothingFound are the cats that were weighed of late and have no open finding,
// with their figures.
func (p Policy) nothingFound(d Day, now time.Time) (lines []string) {
	for _, o := range d.Outlooks {
		if d.open(o.Cat) || now.Sub(o.LastKg) > unseenAfter {
			continue
		}
		line := p.cat(home.Finding{Cat: o.Cat}).Name
		if o.Weight.Known {
			line += ": " + p.Words.level(o.Weight.Value, "kg")
		}
		if o.Month.Known {
			line += fmt.Sprintf(", over four weeks %+.1f %% (likely between %+.1f and %+.1f)", o.Month.Pct, o.Month.Lo, o.Month.Hi)
		}
		lines = append(lines, line+".")
	}
	return lines
}

func (d Day) open(cat string) bool {
	for _, f := range d.Findings {
		if f.Open() && f.Cat == cat {
			return true
		}
	}
	return false
}

// unseen are the cats and sources that were silent: silence is never health.
func (p Policy) unseen(d Day, now time.Time) (lines []string) {
	for _, o := range d.Outlooks {
		name := p.cat(home.Finding{Cat: o.Cat}).Name
		switch {
		case o.LastKg.IsZero():
			lines = append(lines, name+" was never weighed.")
		case now.Sub(o.LastKg) > unseenAfter:
			lines = append(lines, fmt.Sprintf("%s was last weighed %s.", name, stamp(o.LastKg, p.Words.Zone)))
		}
	}
	heard := map[string]time.Time{}
	for _, s := range d.Sources {
		heard[s.Source] = s.Arrived
	}
	for _, s := range p.House.Scales {
		switch last, ok := heard[s.ID]; {
		case !ok:
			lines = append(lines, "The scale "+s.ID+" was never heard.")
		case now.Sub(last) > unseenAfter:
			lines = append(lines, fmt.Sprintf("The scale %s was last heard %s.", s.ID, stamp(last, p.Words.Zone)))
		}
	}
	return lines
}

// due is what a person has to do that no finding asks for, as often as the cat's
// stage of life asks for it.
func (p Policy) due(d Day, now time.Time) (lines []string) {
	for _, c := range p.House.Cats {
		often := home.StageOf(c.Born, now).Rhythm()
		switch last, ok := d.Checks[c.ID]; {
		case !ok:
			lines = append(lines, "A home check of "+c.Name+": there was none yet.")
		case now.Sub(last) > time.Duration(often.Check)*day:
			lines = append(lines, fmt.Sprintf("A home check of %s: the last was on %s.", c.Name, p.Words.date(last)))
		}
		if last, ok := d.Exams[c.ID]; ok && now.Sub(last) > time.Duration(often.Exam)*day {
			lines = append(lines, fmt.Sprintf("A visit of %s to the practice: the last was on %s.", c.Name, p.Words.date(last)))
		}
	}
	return lines
}

func (p Policy) unknown(d Day) (lines []string) {
	for _, o := range d.Outlooks {
		for _, s := range o.Unknown {
			lines = append(lines, p.cat(home.Finding{Cat: o.Cat}).Name+": "+oneLine(s))
		}
	}
	return lines
}
