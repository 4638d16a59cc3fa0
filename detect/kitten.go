package detect

import (
	"weighbeam/home"
)

// A kitten gains every week, so any sure loss matters: its rule compares the
// level with the greatest of the last month, at a margin wide enough for the
// noise of a growing level.
const (
	kittenLoss  = 4.0 // percent under the greatest level
	kittenSure  = 4.5 // standard deviations of the level
	kittenDays  = 30  // how long ago the greatest level may be
	kittenTwice = 2   // days in a row
)

// judgeKitten finds a kitten that loses, and closes when it has regained.
func (f *falling) judgeKitten() verdict {
	w := f.w
	level, sd := w.level()
	peak := w.greatest(kittenDays)
	lost := peak.level - level
	if f.open != nil {
		if level >= f.open.before {
			f.open = nil
			return clearAs(fallingRegained)
		}
		return foundAs(f.kittenFinding(f.open.finding, level))
	}
	if lost < kittenLoss || lost < kittenSure*sd {
		f.calm = 0
		return verdict{}
	}
	if f.calm++; f.calm < kittenTwice {
		return verdict{}
	}
	f.calm = 0
	f.open = &fall{before: peak.level, finding: home.Finding{
		Urgency: home.Today, Onset: dateOf(float64(peak.day)), Before: w.kg(peak.level), LevelUnit: "kg",
		Confidence: normalCDF((lost - kittenLoss/2) / sd),
	}}
	fd := f.open.finding
	fd.OnsetLo, fd.OnsetHi = fd.Onset, dateOf(w.today())
	fd.Warnings = w.warnings(fd)
	f.open.finding = f.kittenFinding(fd, level)
	return foundAs(f.open.finding)
}

func (f *falling) kittenFinding(fd home.Finding, level float64) home.Finding {
	fd.After = f.w.kg(level)
	fd.ChangePct = percent(level - f.open.before)
	fd.Data = f.w.since(fd.Onset)
	fd.Text = kittenText(fd)
	return fd
}

// greatest is the point with the highest level of the last days.
func (w *weights) greatest(days int) dayPoint {
	best := w.past[len(w.past)-1]
	for i := len(w.past) - 1; i >= 0 && float64(w.past[i].day) >= w.today()-float64(days); i-- {
		if w.past[i].level > best.level {
			best = w.past[i]
		}
	}
	return best
}
