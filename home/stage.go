package home

import "time"

// Stage is a stage of a cat's life.
type Stage string

// The stages of the AAHA/AAFP 2021 feline life stage guidelines (J Feline Med Surg
// 23:211-233, table 1): kitten to 1 year, young adult 1 to 6, mature adult 7 to
// 10, senior over 10.
const (
	Kitten      Stage = "kitten"
	YoungAdult  Stage = "young-adult"
	MatureAdult Stage = "mature-adult"
	Senior      Stage = "senior"
)

// StageOf is the stage of a cat born then at t; "" where its birth is not known.
// On its tenth birthday it is mature, from the day after senior.
func StageOf(born, t time.Time) Stage {
	switch {
	case born.IsZero():
		return ""
	case t.Before(born.AddDate(1, 0, 0)):
		return Kitten
	case t.Before(born.AddDate(7, 0, 0)):
		return YoungAdult
	case t.Before(born.AddDate(10, 0, 1)):
		return MatureAdult
	}
	return Senior
}

// StageEnds is when the stage at t ends; zero for the last one, or none.
func StageEnds(born, t time.Time) time.Time {
	switch StageOf(born, t) {
	case Kitten:
		return born.AddDate(1, 0, 0)
	case YoungAdult:
		return born.AddDate(7, 0, 0)
	case MatureAdult:
		return born.AddDate(10, 0, 1)
	}
	return time.Time{}
}

// Rhythm is how often, in days, what is to be done comes round.
type Rhythm struct {
	Weigh int // on any scale
	Check int // by hand
	Exam  int // at the practice
}

// Rhythm is how often a cat in s is weighed, checked and examined. Exams at least
// once a year, of seniors every six months: AAHA/AAFP 2021. Weighing: every week for kittens and
// seniors, every month for others, the more frequent of what is commonly advised.
// The home check: a choice of this program.
func (s Stage) Rhythm() Rhythm {
	switch s {
	case Kitten:
		return Rhythm{Weigh: 7, Check: 28, Exam: 365}
	case Senior:
		return Rhythm{Weigh: 7, Check: 14, Exam: 182}
	}
	return Rhythm{Weigh: 28, Check: 28, Exam: 365}
}
