package detect

import (
	"time"

	"weighbeam/home"
)

// redFlag passes on what a person saw that cannot wait, at once. It stands until
// a later home check of the same cat sees none.
type redFlag struct {
	open bool
}

func newRedFlag() *redFlag { return &redFlag{} }

func (r *redFlag) kind() home.Sign { return home.RedFlagSeen }

func (r *redFlag) step(o Observation) verdict {
	switch c := o.Check; {
	case c == nil:
		return verdict{}
	case len(c.RedFlags) > 0:
		r.open = true
		return foundAs(home.Finding{
			Urgency: home.Now, Onset: c.Time, OnsetLo: c.Time, OnsetHi: c.Time,
			Confidence: 1, Data: len(c.RedFlags),
			Warnings: []string{warnSeenByPerson}, Text: redFlagText(c.RedFlags),
		})
	case r.open:
		r.open = false
		return clearAs(redFlagGone)
	}
	return verdict{}
}

// sameSight is for how long the same red flag, entered again, is the same sight: two
// people enter what both saw. It is a choice of this program.
const sameSight = 12 * time.Hour

// SeenAnew reports whether f, of a red flag that stands as was, is something else that a
// person saw, or the same after a while: who was told of the one knows nothing of the other.
func SeenAnew(was, f home.Finding) bool {
	since := f.Onset.Sub(was.Onset)
	return f.Sign == home.RedFlagSeen && since > 0 && (f.Text != was.Text || since >= sameSight)
}

func (r *redFlag) outlook(time.Time, *home.Outlook) {}
