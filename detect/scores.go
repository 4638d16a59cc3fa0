package detect

import (
	"slices"
	"time"

	"weighbeam/home"
)

// scores finds a body or muscle condition that moves. Two people score a cat
// differently (muscle: kappa 0.43 between raters, 0.49 to 0.76 for one, Am J Vet
// Res 2020;81:254), so a score is compared with earlier ones of the same person
// only. Two points of nine, or two steps of muscle, matter; so does muscle that is
// plainly going, and a body of 3 or less, whoever says it.
type scores struct {
	seen []scored
	open bool
}

// scored is what one person said on one day.
type scored struct {
	at     time.Time
	by     string
	body   float64 // 0 for not scored
	muscle int     // 0 normal to 3 severe loss, -1 for not scored
}

const (
	scoreMoves  = 2 // points, or steps
	thinBody    = 3
	plainlyGone = 2                    // moderate loss of muscle
	scoreSpan   = 400 * 24 * time.Hour // how old a score may be to be compared with
)

func newScores() *scores { return &scores{} }

func (s *scores) kind() home.Sign { return home.ScoreMoving }

func (s *scores) step(o Observation) verdict {
	now, ok := scoredAt(o.Check)
	if !ok {
		return verdict{}
	}
	s.seen = slices.DeleteFunc(s.seen, func(e scored) bool { return now.at.Sub(e.at) > scoreSpan })
	why, urgency := s.judge(now)
	s.seen = append(s.seen, now)
	switch {
	case len(why) > 0:
		s.open = true
		return foundAs(home.Finding{Urgency: urgency, Onset: now.at, OnsetLo: now.at, OnsetHi: now.at,
			Data: len(s.seen), Warnings: []string{warnScores}, Text: scoreText(why, urgency)})
	case s.open:
		s.open = false
		return clearAs(scoreBack)
	}
	return verdict{}
}

// judge says in words what of a score matters.
func (s *scores) judge(now scored) (why []string, urgency home.Urgency) {
	urgency = home.Mention
	if now.body > 0 && now.body <= thinBody {
		why, urgency = append(why, bodyThin(now.body)), home.Book
	}
	if now.muscle >= plainlyGone {
		why, urgency = append(why, muscleGoing(now.muscle)), home.Book
	}
	for _, e := range s.seen {
		if e.by != now.by {
			continue
		}
		if now.body > 0 && e.body > 0 && abs(now.body-e.body) >= scoreMoves {
			if now.body < e.body {
				urgency = home.Book
			}
			return append(why, bodyMoved(e.body, now.body, e.at)), urgency
		}
		if now.muscle >= 0 && e.muscle >= 0 && now.muscle-e.muscle >= scoreMoves {
			return append(why, muscleMoved(e.at)), home.Book
		}
	}
	return why, urgency
}

func abs(x float64) float64 { return max(x, -x) }

var muscleSteps = []string{"normal", "mild-loss", "moderate-loss", "severe-loss"}

// scoredAt is the scores of a home check; ok is false where there are none.
func scoredAt(c *home.HomeCheck) (s scored, ok bool) {
	if c == nil {
		return s, false
	}
	s = scored{at: c.Time, by: c.By, muscle: -1}
	if b, has := c.Of(home.BodyScore, ""); has && b.HasNumber {
		s.body = b.Number
	}
	if m, has := c.Of(home.Muscle, ""); has {
		s.muscle = slices.IndexFunc(muscleSteps, m.Is)
	}
	return s, s.body > 0 || s.muscle >= 0
}

func (s *scores) outlook(time.Time, *home.Outlook) {}

// painScore finds a face that scores over 0.39 of what could be scored, the line of
// the grimace scale of Evangelista et al. 2019 (Sci Rep 9:19128). It takes three
// features, so that one is not all.
type painScore struct{ open bool }

const (
	painLine  = 0.39
	painLeast = 6 // points that could be given: three features
)

func newPainScore() *painScore { return &painScore{} }

func (p *painScore) kind() home.Sign { return home.PainScore }

func (p *painScore) step(o Observation) verdict {
	if o.Check == nil {
		return verdict{}
	}
	sum, most := home.PainFace(o.Check.Seen)
	if most < painLeast {
		return verdict{}
	}
	at := o.Check.Time
	if sum/most > painLine {
		p.open = true
		return foundAs(home.Finding{Urgency: home.Today, Onset: at, OnsetLo: at, OnsetHi: at, Data: 1,
			Warnings: []string{warnSeenByPerson}, Text: painText(sum, most)})
	}
	if p.open {
		p.open = false
		return clearAs(painUnder)
	}
	return verdict{}
}

func (p *painScore) outlook(time.Time, *home.Outlook) {}
