package detect

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// namesDisease matches words that a watcher must not use of a cat: it names no
// disease and judges no outcome.
var namesDisease = regexp.MustCompile(`(?i)kidney|renal|thyroid|diabet|cancer|tumou?r|lymphoma|heart (failure|disease)|lipidosis|liver|anaemia|infection|disease|diagnos|surviv|fatal|die[sd]?\b|death`)

func anyFinding() home.Finding {
	return home.Finding{
		Urgency: home.Book, Onset: epoch, OnsetLo: epoch.AddDate(0, 0, -9), OnsetHi: epoch.AddDate(0, 0, 5), ChangePct: -2.1,
		Rate: -0.55, RateLo: -0.8, RateHi: -0.3, RateUnit: "%/week", Before: 4.61, After: 4.51, LevelUnit: "kg", Confidence: 0.97, Data: 31,
	}
}

// TestWords_EverySign proves that the text of every sign says its numbers, since
// when, how sure and what to do.
func TestWords_EverySign(t *testing.T) {
	f := anyFinding()
	for sign, c := range map[home.Sign]struct {
		text string
		says []string
	}{
		home.WeightFalling:   {fallingText(f, agrees("the last week")), []string{"comparison of the last week shows it, too.", "4.61 kg", "4.51 kg", "−2.1 %", "1 January 2021", "0.55 % a week", "0.30 to 0.80", "97 %", "31 days", "Book a visit"}},
		home.WeightRising:    {risingText(f, ""), []string{"risen", "4.61 kg", "4.51 kg", "Book a visit"}},
		home.PlanTooFast:     {planText(f, 2), []string{"0.55 % a week", "4.61 kg", "4.51 kg", "2.0 % a week", "97 %", "31 days"}},
		home.WeightLow:       {lowText(f), []string{"4.51 kg", "2.1 % under", "4.61 kg", "31 days", "Book a visit"}},
		home.RedFlagSeen:     {redFlagText([]home.RedFlag{home.Collapse, home.Poison}), []string{"collapse", "poison", "Go to a vet now"}},
		home.NotSeen:         {notSeenText(50*time.Hour, 36*time.Hour), []string{"50 hours", "36 hours", "Look for the cat", "today"}},
		home.PlanOff:         {planOffText(f, 4), []string{"−2.1 %", "4.51 kg", "4.00 kg"}},
		home.HeartOutOfRange: {heartText(home.Finding{Urgency: home.Book, Before: 120, After: 104, Data: 2}), []string{"104 times", "2 counts", "under the line of 120", "Book a visit", "go to a vet now"}},
		home.TempOutOfRange:  {temperatureText(home.Finding{Urgency: home.Today, Before: 39.4, After: 39.9}), []string{"39.9 °C", "over the line of 39.4 °C", "Call the practice today"}},
		home.NotEating:       {notEatingText(26 * time.Hour), []string{"26 hours", "call the practice today", "kitten"}},
		home.EatingLess:      {eatingText(home.Finding{Urgency: home.Today, Before: 60, After: 24, ChangePct: -60, Data: 2}), []string{"24 g a day", "2 days", "60 g", "−60.0 %", "Call the practice today"}},
		home.DrinkingMore:    {drinkingText(home.Finding{Urgency: home.Book, Before: 100, After: 180, ChangePct: 80}), []string{"180 mL", "100 mL", "+80.0 %", "Book a visit"}},
		"drinking much":      {overLineText(home.Finding{Urgency: home.Book, Before: 400, After: 450}), []string{"450 mL a day", "400 mL", "Book a visit"}},
		home.LitterMore:      {litterMoreText(home.Finding{Urgency: home.Book, Before: 48, After: 90, ChangePct: 87.5}), []string{"90 g", "48 g", "Book a visit"}},
		home.FrequentVisits:  {frequentText(3, 3, true), []string{"3 times within two hours", "Go to a vet now"}},
		home.NoLitterVisit:   {noLitterText(40*time.Hour, 36*time.Hour), []string{"40 hours", "36 hours", "Call the practice today", "go to a vet now"}},
		home.ScoreMoving:     {scoreText([]string{bodyMoved(6, 4, epoch), muscleGoing(2)}, home.Book), []string{"from 6 to 4 of 9", "1 January 2021", "moderate loss", "Book a visit"}},
		home.PainScore:       {painText(4, 10), []string{"4 of 10", "Call the practice today"}},
		home.LumpToShow:      {lumpText([]string{lumpAt(home.Lump{Place: home.AtNeck, LengthMm: 22}, "2 cm or more")}), []string{"neck, 22 mm, 2 cm or more", "Book a visit"}},
		home.CheckOverdue:    {overdueText(30*oneDay, 14*oneDay), []string{"30 days", "every 14 days", "as much of a home check as the cat allows"}},
		"kitten":             {kittenText(f), []string{"4.61 kg", "4.51 kg", "97 %", "Book a visit"}},
	} {
		for _, want := range c.says {
			if !strings.Contains(c.text, want) {
				t.Errorf("%s: %q does not say %q", sign, c.text, want)
			}
		}
	}
}

// TestWords_NoDisease proves that no sentence of a finding names a disease, and
// that each is a full sentence.
func TestWords_NoDisease(t *testing.T) {
	f := anyFinding()
	sentences := []string{
		fallingText(f, ""), risingText(f, ""), lowText(f), kittenText(f), planText(f, 2), redFlagText(home.RedFlags()), notSeenText(oneDay, oneDay), overdueText(30*oneDay, 14*oneDay),
		warnOneScale, warnMixedSources, warnKnownCause, warnTypedReference, warnSeenByPerson, warnFaint, warnAway, warnFewDays(3), warnShortHistory(40),
		fallingRegained, changeExplained, planOver, planSlower, risingLost, lowRegained, redFlagGone, notSeenOver, overdueOver, fallingSteady(8), risingSteady(8),
		unknownWeight(3, 4), unknownWeight(0, 4), unknownWeight(3, 0), unknownReference(1), unknownSilence(2), unknownWhileGrowing,
		learnedWeight(900, 0.4), learnedSilence(40 * time.Hour),
		planOffText(f, 4), heartText(f), temperatureText(f), notEatingText(oneDay), eatingText(f), drinkingText(f), overLineText(f), litterMoreText(f), frequentText(1, 5, false),
		frequentText(3, 3, true), noLitterText(oneDay, oneDay), scoreText([]string{muscleMoved(epoch), bodyThin(3)}, home.Book), painText(4, 10), recountHeart(99),
		lumpText([]string{"neck"}), warnOtherBox, warnLeftUnsure, warnBowls, warnHeart, warnSlowHeart, warnTemperature, warnScores, warnPlanOff, warnNames, unknownNames,
		litterVisited, litterLeft, litterCalm, litterGone, eatenAgain, eatingUsual, drinkingUsual, litterUsual, home.LearnedAnew, heartInRange, temperatureInRange,
		scoreBack, painUnder, lumpsGone, planReached, planUnderWay,
		advice(home.Mention), advice(home.Book), advice(home.Today), advice(home.Now),
	}
	for _, s := range sentences {
		if m := namesDisease.FindString(s); m != "" {
			t.Errorf("%q says %q", s, m)
		}
		if !strings.HasSuffix(s, ".") {
			t.Errorf("%q is no full sentence", s)
		}
	}
}

// TestWords_Plural proves that one is not many.
func TestWords_Plural(t *testing.T) {
	for got, want := range map[string]string{
		days(1, "with a weighing"): "1 day with a weighing",
		days(2, ""):                "2 days",
		span(30 * time.Hour):       "30 hours",
		span(5 * oneDay):           "5 days",
		sureWords(0.996):           "very sure (over 99 %)",
		sureWords(0):               "not known",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// The list of signs, by which words and pages are checked, has each that a monitor
// looks for, once.
func TestSigns_HaveWhatIsLookedFor(t *testing.T) {
	known := map[home.Sign]int{}
	for _, s := range home.Signs() {
		known[s]++
	}
	for _, s := range New(home.Cat{ID: "cat"}, Options{}).signs {
		if known[s.kind()] != 1 {
			t.Errorf("%s is in the list %d times", s.kind(), known[s.kind()])
		}
	}
}
