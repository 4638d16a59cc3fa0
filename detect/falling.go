package detect

import (
	"math"
	"time"

	"weighbeam/home"
)

// falling finds a weight that goes down for weeks. It needs both: sure (the
// likelihood ratio of the likeliest ramp is over the threshold of the budget)
// and big enough to matter (leastLoss). The paces behind it: a median of 8.9 %
// lost in the 12 months before a kidney diagnosis, 0.774 % a month (Freeman et
// al. 2016), and 20 % before a thyroid one (Peterson et al. 2016).
type falling struct {
	w         *weights
	threshold float64
	budget    float64
	seen      int // days judged so far
	open      *fall
	calm      int // days in a row without a fall
}

// fall is what stays fixed of an open finding.
type fall struct {
	finding home.Finding
	before  float64 // level before, percent
	raised  int     // day
	level   float64 // on that day, percent
	excess  float64 // log-likelihood ratio over the threshold, then
}

const (
	leastLoss = 1.7  // percent of body weight
	mostPace  = 0.6  // percent a day
	leastPace = 0.01 // percent a day

	learnSpan   = 21 // days before a change of weight can be judged
	learnVisits = 8
	steadyDays  = 70
	steadyLoss  = 0.5 // percent over steadyDays that still counts as steady
	calmDays    = 14
)

// profileLevel is the nominal level of the intervals of onset and pace that hold
// the truth in 90 of 100 simulated cats: the wander in use is on the cautious
// side, which makes the intervals a little wider than their name.
const profileLevel = 0.87

func newFalling(w *weights, opt Options) *falling {
	return &falling{w: w, threshold: rampThreshold(opt.budget()), budget: opt.budget()}
}

func (f *falling) kind() home.Sign { return home.WeightFalling }

func (f *falling) step(o Observation) verdict {
	if o.Weighing == nil {
		return verdict{}
	}
	return f.judge()
}

func (f *falling) tick(time.Time) verdict { return f.judge() }

// wake: only a day that the weights take in changes anything.
func (f *falling) wake(time.Time) time.Time { return time.Time{} }

// judge looks at the model once for each day that was taken in.
func (f *falling) judge() verdict {
	w := f.w
	if w.days() == f.seen {
		return verdict{}
	}
	f.seen = w.days()
	if w.kitten {
		return f.judgeKitten()
	}
	switch {
	case w.dieting && f.open != nil:
		return f.clear(changeExplained)
	case f.open != nil:
		return f.follow()
	case w.dieting || !w.ready():
		return verdict{}
	}
	best, ok := w.ramps.Best(-mostPace, -leastPace)
	if !ok || best.LLR < f.threshold*w.caution() || -best.Slope*(w.today()-best.Onset) < leastLoss {
		return verdict{}
	}
	return f.raise(best.LLR - f.threshold*w.caution())
}

func (f *falling) raise(excess float64) verdict {
	w := f.w
	p, ok := w.ramps.Profile(w.today(), -mostPace, -leastPace, profileLevel)
	if !ok {
		return verdict{}
	}
	w.track(p)
	level, _ := w.level()
	before := level - p.Change.Mid
	fd := w.changeFinding(p, before, sureness(f.budget, excess))
	f.open = &fall{before: before, raised: w.day, excess: excess, level: level}
	fd.Urgency = f.urgency(fd, before)
	fd.Text = fallingText(fd, w.plainWords(fd))
	f.open.finding = fd
	return foundAs(fd)
}

// follow keeps an open finding up to date, or closes it.
func (f *falling) follow() verdict {
	w := f.w
	level, _ := w.level()
	if level > f.open.before-leastLoss/3 {
		return f.clear(fallingRegained)
	}
	f.calm++
	if change, _, ok := w.change(steadyDays); !ok || change < -steadyLoss {
		f.calm = 0
	}
	if f.calm >= calmDays {
		return f.clear(fallingSteady(steadyDays / 7))
	}
	fd := f.open.finding
	fd.After = w.kg(level)
	fd.ChangePct = percent(level - f.open.before)
	w.paceSince(&fd, f.open.raised)
	fd.Urgency = f.urgency(fd, f.open.before)
	fd.Data = w.since(fd.Onset)
	fd.Confidence = sureness(f.budget, f.open.excess+w.further(f.open.level))
	fd.Text = fallingText(fd, w.plainWords(fd))
	f.open.finding = fd
	return foundAs(fd)
}

func (f *falling) clear(reason string) verdict {
	f.open, f.calm = nil, 0
	f.w.settle()
	return clearAs(reason)
}

// urgency is book, and today from 5 % in 30 days or 10 % in all: the usual
// teaching (from memory), and the survival line of Krick et al. 2011 for 5 %. It
// falls back to book when the pace has clearly slackened.
func (f *falling) urgency(fd home.Finding, before float64) home.Urgency {
	level, _ := f.w.level()
	change, sd, known := f.w.change(30)
	known = known && !f.w.carries(f.w.today()-30) // what a birth took is no loss
	fast := known && change+sd < 100*math.Log(0.96) && change <= 100*math.Log(0.95)
	still := fd.Urgency == home.Today && (percent(level-before) < -8 || known && percent(change) <= -2.5)
	if fast || still || percent(level-before) <= -lowLine {
		return home.Today
	}
	return home.Book
}

func (f *falling) outlook(time.Time, *home.Outlook) {}

// realRate is how often a real change begins, a cat-year: chosen, one in ten
// years, since no published figure was found. It only sets how sure a finding is
// said to be, not when it is raised.
const realRate = 0.1

// sureness is the probability that a change is real: the rate of real ones over
// that of all that look as clear. False ones of that clearness become rarer with
// the log-likelihood ratio over the threshold, the excess, as exp(-excess).
func sureness(budget, excess float64) float64 {
	return realRate / (realRate + budget*math.Exp(-excess))
}

// further is how much the log-likelihood ratio has grown since the level was
// that: it falls when the level comes back.
func (w *weights) further(level float64) float64 {
	now, sd := w.level()
	z := (level - now) / sd
	return z * math.Abs(z) / 2
}

// percent turns a difference of log weight, in percent of a nat, into percent.
func percent(d float64) float64 { return 100 * math.Expm1(d/100) }
