package detect

import (
	"slices"
	"time"

	"weighbeam/home"
)

// frequentVisits finds a cat that goes to the litter box again and again and leaves
// nothing: a blocked bladder cannot wait, in a male above all (Problem-Based
// Feline Medicine, Rand ed. 2006: changes of the blood are evident by 24 hours).
// The numbers are a choice of this program, on the careful side: healthy cats go
// 1 to 7 times a day (Shin et al. 2024, n = 37), and a void weighs 14 to 20 g
// (10.3 mL/kg/day in two or three voids, Zanghi et al. 2018).
type frequentVisits struct {
	male   bool
	recent []boxVisit // of the last day
	open   bool
}

type boxVisit struct {
	at    time.Time
	empty bool // nothing was left, as far as the scale can tell
}

const (
	emptyLeft  = 4.0 // g; less than the least void, more than litter on the paws
	relief     = 7.0 // g; half of the least void: a few drops are no relief
	quickTimes = 3   // visits that leave nothing
	quickSpan  = 2 * time.Hour
	dayTimes   = 8 // visits a day, one more than healthy cats make
	dayEmpty   = 5 // of which so many leave nothing
	calmSpan   = 24 * time.Hour
	goneSpan   = 72 * time.Hour // after an empty visit with none after it
	sureName   = 0.95           // of a visit that counts
)

func newFrequentVisits(cat home.Cat) *frequentVisits {
	return &frequentVisits{male: cat.Sex == "male"}
}

func (f *frequentVisits) kind() home.Sign { return home.FrequentVisits }

func (f *frequentVisits) step(o Observation) verdict {
	v := o.Visit
	if v == nil || !o.Box || !v.HasLeft || v.Confidence < sureName && v.Whose != home.Said {
		return verdict{}
	}
	empty := v.LeftG+2*v.LeftSDG < emptyLeft || v.LeftG < emptyLeft && v.LeftSDG < emptyLeft/2
	f.recent = slices.DeleteFunc(f.recent, func(b boxVisit) bool { return v.End.Sub(b.at) >= calmSpan })
	f.recent = append(f.recent, boxVisit{v.End, empty})
	switch {
	case !empty && v.LeftG-2*v.LeftSDG > relief && f.open:
		f.open = false
		return clearAs(litterLeft)
	case f.open && f.wellForADay():
		f.open = false
		return clearAs(litterCalm)
	case !empty:
		return verdict{}
	}
	quick, all := f.emptySince(v.End.Add(-quickSpan)), f.emptySince(v.End.Add(-calmSpan))
	if quick < quickTimes && (len(f.recent) < dayTimes || all < dayEmpty) {
		return verdict{}
	}
	f.open = true
	return foundAs(f.finding(quick, all))
}

// wellForADay reports whether no visit of the last day left nothing, and they were few: of
// a kitten each void is small.
func (f *frequentVisits) wellForADay() bool {
	return len(f.recent) < dayTimes && !slices.ContainsFunc(f.recent, func(b boxVisit) bool { return b.empty })
}

// emptySince is how many visits after t left nothing, since one last left something.
func (f *frequentVisits) emptySince(t time.Time) int {
	n := 0
	for _, b := range slices.Backward(f.recent) {
		if !b.at.After(t) || !b.empty {
			break
		}
		n++
	}
	return n
}

func (f *frequentVisits) finding(quick, all int) home.Finding {
	first := f.recent[len(f.recent)-all].at
	fd := home.Finding{Urgency: home.Today, Onset: first, OnsetLo: first, OnsetHi: first, Data: all, Warnings: []string{warnLeftUnsure}}
	if f.male {
		fd.Urgency = home.Now
	}
	fd.Text = frequentText(quick, all, f.male)
	return fd
}

func (f *frequentVisits) wake(now time.Time) time.Time {
	if !f.open {
		return time.Time{}
	}
	return hourly(f.ends(), now)
}

// ends is when it is over, should no visit come: a cat that went again, and perhaps
// left something, is calm after a day. One whose last visit was empty may have given
// up trying: not-seen or no-litter-visit have told of it before this falls silent.
func (f *frequentVisits) ends() time.Time {
	last := f.recent[len(f.recent)-1]
	if last.empty {
		return last.at.Add(goneSpan)
	}
	return last.at.Add(calmSpan)
}

func (f *frequentVisits) tick(now time.Time) verdict {
	if !f.open || now.Before(f.ends()) {
		return verdict{}
	}
	f.open = false
	if f.recent[len(f.recent)-1].empty {
		return clearAs(litterGone)
	}
	return clearAs(litterCalm)
}

func (f *frequentVisits) outlook(time.Time, *home.Outlook) {}
