package detect

import (
	"fmt"

	"weighbeam/home"
)

// The sentences of the signs of breathing. As those of words.go: no disease is
// named, and what to do is left to the practice.

const (
	breathingUsualAgain = "The counts are back near the cat's usual, or have been level for so long that this is now its usual."

	warnBreathCauses = "A hot room, a dream, purring or a walk just before would look the same: count in a cool room, some time after the cat fell asleep."
	warnShortWindow  = "Most counts were over less than 25 seconds, where one breath more or less moves the rate by 4 a minute: count for 30 or 60 seconds."
	warnNotPlain     = "A plain comparison of the last six sittings with older ones does not show it clearly yet."
	warnResting      = "It rests on counts of the cat awake, which vary more than those asleep: count it asleep."
)

func warnFewCounts(n int) string {
	return fmt.Sprintf("The cat's usual rests on few data: %s in all.", plural(n, "count"))
}

func breathingUnderLine(n int) string {
	return fmt.Sprintf("The last %d counts were all at or under the line again.", n)
}

func risingBreathsText(s home.State, f home.Finding, plain string) string {
	return fmt.Sprintf("Breaths a minute, counted %s, have risen from the cat's usual of about %.0f to %.0f (%s) since about %s, by %.1f a minute each week (%.1f to %.1f). "+
		"It began between %s and %s.%s %s",
		stateWords(s), f.Before, f.After, pct(f.ChangePct), date(f.Onset), f.Rate, f.RateLo, f.RateHi,
		date(f.OnsetLo), date(f.OnsetHi), plain, breathAdvice(f.Urgency))
}

func highBreathsText(s home.State, f home.Finding) string {
	return fmt.Sprintf("%s, counted %s, since %s were over %.0f breaths a minute, %.0f on average. %s",
		plural(f.Data, "separate count"), stateWords(s), date(f.Onset), f.Before, f.After, breathAdvice(f.Urgency))
}

// breathAdvice says what to do. Whatever it says, hard breathing cannot wait.
func breathAdvice(u home.Urgency) string {
	const hard = " If the cat breathes hard or with an open mouth, go to a vet now."
	switch u {
	case home.Mention:
		return "Count once a day for a week, asleep, and mention it at the next visit to the practice." + hard
	case home.Today:
		return "Count once more within the hour; if it is still high, call the practice today." + hard
	}
	return "Count again over the next hours, asleep, and book a visit to the practice." + hard
}

func stateWords(s home.State) string {
	if s == home.Resting {
		return "at rest, awake"
	}
	return "asleep"
}

func recount(perMinute float64) string {
	return fmt.Sprintf("Whether breathing is fast: the last count asleep was %.0f a minute. Count again over the next hour; one high count alone says little.", perMinute)
}

func unknownBreaths(more int) string {
	return fmt.Sprintf("The usual breaths asleep: %s more, on days of their own.", plural(more, "count"))
}

func learnedBreaths(n int, usual float64) string {
	return fmt.Sprintf("The usual breaths asleep, about %.0f a minute, from %s.", usual, plural(n, "count"))
}
