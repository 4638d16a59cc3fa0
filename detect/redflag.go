package detect

import (
	"slices"
	"time"

	"weighbeam/home"
)

// redFlag passes on what a person saw that cannot wait, at once. It stands until
// a later home check of the same cat sees none.
type redFlag struct {
	at    time.Time      // of the newest home check that saw any
	flags []home.RedFlag // that were seen then; none: nothing stands
}

func newRedFlag() *redFlag { return &redFlag{} }

func (r *redFlag) kind() home.Sign { return home.RedFlagSeen }

func (r *redFlag) step(o Observation) verdict {
	switch c := o.Check; {
	case c == nil:
		return verdict{}
	case len(c.RedFlags) > 0:
		r.flags, r.at = r.with(*c), c.Time
		return foundAs(home.Finding{
			Urgency: home.Now, Onset: c.Time, OnsetLo: c.Time, OnsetHi: c.Time,
			Confidence: 1, Data: len(r.flags),
			Warnings: []string{warnSeenByPerson}, Text: redFlagText(r.flags),
		})
	case len(r.flags) > 0 && c.Time.After(r.at):
		r.flags = nil
		return clearAs(redFlagGone)
	}
	return verdict{}
}

// with is what stands with c. A time is entered to the minute: what two people saw in the
// same one stands together, in whichever order it comes.
func (r *redFlag) with(c home.HomeCheck) []home.RedFlag {
	if len(r.flags) == 0 || !c.Time.Equal(r.at) {
		return c.RedFlags
	}
	return slices.DeleteFunc(home.RedFlags(), func(f home.RedFlag) bool {
		return !slices.Contains(r.flags, f) && !slices.Contains(c.RedFlags, f)
	})
}

// sameSight is for how long the same red flag, entered again, is the same sight: two
// people enter what both saw. It is a choice of this program.
const sameSight = 12 * time.Hour

// SeenAnew reports whether f, of a red flag that stands as was, is something else that a
// person saw, or the same after a while: who was told of the one knows nothing of the other.
func SeenAnew(was, f home.Finding) bool {
	since := f.Onset.Sub(was.Onset)
	switch {
	case f.Sign != home.RedFlagSeen || since < 0:
		return false
	case since == 0: // entered in the same minute, or corrected
		return f.Data > was.Data
	}
	return f.Text != was.Text || since >= sameSight
}

func (r *redFlag) outlook(time.Time, *home.Outlook) {}
