package notify

import (
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// Words are the rules of c as a person reads them: "what needs an appointment or is more urgent, at
// 08:00 what can wait, not between 22:00 and 07:00 unless it is urgent".
func (c Channel) Words() string {
	var parts []string
	switch {
	case c.Least == home.Now:
		parts = append(parts, "only what says to go now")
	case c.Least == home.Today:
		parts = append(parts, "what needs a call today or is more urgent")
	case c.Least == home.Book:
		parts = append(parts, "what needs an appointment or is more urgent")
	default:
		parts = append(parts, "everything")
	}
	switch {
	case c.For != "":
		parts = append(parts, fmt.Sprintf("but only what %s has not taken after %s", c.For, spell(c.After)))
	case c.After > 0:
		parts = append(parts, fmt.Sprintf("but only if nobody has reacted after %s", spell(c.After)))
	}
	if c.Digest.On {
		parts = append(parts, "what can wait at "+c.Digest.At.String())
	}
	if c.Quiet.From != c.Quiet.To {
		parts = append(parts, fmt.Sprintf("between %s and %s only what is urgent", c.Quiet.From, c.Quiet.To))
	}
	return strings.Join(parts, ", ")
}

// spell is a length of time as a person says it, in its largest whole unit.
func spell(d time.Duration) string {
	for _, u := range []struct {
		of        time.Duration
		one, many string
	}{{day, "day", "days"}, {time.Hour, "hour", "hours"}, {time.Minute, "minute", "minutes"}} {
		if d >= u.of && d%u.of == 0 {
			return fmt.Sprintf("%d %s", d/u.of, plural(int(d/u.of), u.one, u.many))
		}
	}
	return d.String()
}
