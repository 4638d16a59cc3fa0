package detect

import (
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// Every sentence that a keeper reads of a finding stands here. No disease is
// named; what to do is left to the practice.

const (
	warnOneScale       = "All of it was measured on one scale: if that scale drifted or was moved, the change may be the scale's. Weigh something of known mass on it."
	warnMixedSources   = "A scale that was new in this time had a part in it: part of the change may be the difference between the scales."
	warnKnownCause     = "A new collar or harness, a litter, an operation or a diet that was agreed would look the same."
	warnTypedReference = "The weight it is compared with was typed in, not measured here: check that it is right."
	warnSeenByPerson   = "It rests on what one person saw at one home check."
	warnFaint          = "A simple comparison of the last week with the weeks before does not show it plainly: weigh on for a week."
	warnAway           = "If the cat is away or uses another place, this is no surprise; if a scale has stopped sending, or its visits cannot be told from another cat's, the cat may be well."
)

const warnNames = "Some of the cats weigh so nearly the same that a part of the visits may be another cat's, or this may be another cat's change: weigh by hand to be sure."

func warnFewDays(n int) string {
	return fmt.Sprintf("It rests on few data: %s since the change began.", days(n, "with a weighing"))
}

func warnShortHistory(span int) string {
	return fmt.Sprintf("The cat's usual weight is known for %s only.", days(span, ""))
}

const (
	fallingRegained = "Most of the lost weight has come back."
	changeExplained = "A plan that was agreed, or a pregnancy, covers it."
	planOver        = "The plan is over."
	planSlower      = "The loss is inside the plan again."
	risingLost      = "Half of the gained weight has gone again."
	lowRegained     = "The weight is less than 8 % under the reference again."
	redFlagGone     = "A later home check saw no red flag."
	overdueOver     = "The cat was looked at again."
	notSeenOver     = "The cat was seen again."
)

func fallingSteady(weeks int) string {
	return fmt.Sprintf("The weight has been steady for %d weeks, at the lower level.", weeks)
}

func risingSteady(weeks int) string {
	return fmt.Sprintf("The weight has been steady for %d weeks, at the higher level.", weeks)
}

func fallingText(f home.Finding, plain string) string {
	return fmt.Sprintf("The weight has fallen from about %s to %s (%s) since about %s, at %s. %s%s %s",
		kg(f.Before), kg(f.After), pct(f.ChangePct), date(f.Onset), pace(f), basis(f), plain, advice(f.Urgency))
}

func risingText(f home.Finding, plain string) string {
	return fmt.Sprintf("The weight has risen from about %s to %s (%s) since about %s, at %s. %s%s %s",
		kg(f.Before), kg(f.After), pct(f.ChangePct), date(f.Onset), pace(f), basis(f), plain, advice(f.Urgency))
}

// agrees says that a comparison without any model sees the change, too. By how many
// standard errors is not for a keeper to weigh, and would be news each day.
func agrees(what string) string { return " A plain comparison of " + what + " shows it, too." }

func planText(f home.Finding, most float64) string {
	return fmt.Sprintf("The planned loss is too fast: %s over three weeks, from %s to %s, where at most %.1f %% a week was agreed. How sure: %s, on %s. %s Ask whether to feed more.",
		pace(f), kg(f.Before), kg(f.After), most, sureWords(f.Confidence), days(f.Data, "with a weighing"), advice(f.Urgency))
}

func lowText(f home.Finding) string {
	return fmt.Sprintf("The weight is %s, that is %.1f %% under the reference of %s. It rests on %s. %s",
		kg(f.After), -f.ChangePct, kg(f.Before), days(f.Data, "with a weighing"), advice(f.Urgency))
}

func redFlagText(flags []home.RedFlag) string {
	words := make([]string, len(flags))
	for i, f := range flags {
		words[i] = f.Words()
	}
	return fmt.Sprintf("Seen at a home check: %s. %s", strings.Join(words, "; "), advice(home.Now))
}

func notSeenText(gone, limit time.Duration) string {
	return fmt.Sprintf("No scale and no person has met the cat for %s. By its own habit it would have been met within %s. "+
		"Look for the cat, see that it eats and uses its box, and check the scale. If it is unwell or cannot be found, call the practice today.",
		span(gone), span(limit))
}

func overdueText(gone, rhythm time.Duration) string {
	return fmt.Sprintf("No home check and no count for %s; at its age the cat is to be looked at by hand every %s. "+
		"Scales see weight only. Do as much of a home check as the cat allows, when it suits you both.", span(gone), span(rhythm))
}

func unknownWeight(moreDays, moreWeighings int) string {
	switch {
	case moreDays <= 0:
		return fmt.Sprintf("Whether the weight is changing: %s more.", plural(moreWeighings, "weighing"))
	case moreWeighings <= 0:
		return fmt.Sprintf("Whether the weight is changing: about %s more of weighing.", plural(moreDays, "day"))
	}
	return fmt.Sprintf("Whether the weight is changing: about %s and %s more.", plural(moreDays, "day"), plural(moreWeighings, "weighing"))
}

const unknownNames = "Many visits cannot be told from another cat's: a slow change, or a missing cat, may not be seen. A reader for its chip, a scale of its own or weighing by hand would show it."

func unknownReference(moreDays int) string {
	return fmt.Sprintf("The reference weight: about %s more.", plural(moreDays, "day"))
}

func unknownSilence(moreWeighings int) string {
	return fmt.Sprintf("How long the cat usually stays away from the scales: %s more.", plural(moreWeighings, "weighing"))
}

func learnedWeight(n int, noise float64) string {
	return fmt.Sprintf("How much the weight moves from day to day: about %.1f %%, from %s.", noise, plural(n, "weighing"))
}

func learnedSilence(limit time.Duration) string {
	return fmt.Sprintf("How long the cat stays away from the scales: more than %s would be told.", span(limit))
}

const unknownWhileGrowing = "The usual weight: a kitten grows, so it is learned from the first birthday on. A loss is told before."

func kittenText(f home.Finding) string {
	return fmt.Sprintf("A kitten should gain, and this one has lost: from %s to %s (%s) since %s. How sure: %s, on %s. %s",
		kg(f.Before), kg(f.After), pct(f.ChangePct), date(f.Onset), sureWords(f.Confidence), days(f.Data, "with a weighing"), advice(f.Urgency))
}

// advice is what an urgency asks for.
func advice(u home.Urgency) string {
	switch u {
	case home.Mention:
		return "Mention it at the next visit to the practice."
	case home.Book:
		return "Book a visit to the practice, and take the cat's sheet along."
	case home.Today:
		return "Call the practice today."
	case home.Now:
		return "Go to a vet now."
	}
	return ""
}

// basis says how sure a change is and on how much it rests.
func basis(f home.Finding) string {
	return fmt.Sprintf("It began between %s and %s; how sure: %s, on %s.",
		date(f.OnsetLo), date(f.OnsetHi), sureWords(f.Confidence), days(f.Data, "with a weighing"))
}

func sureWords(p float64) string {
	switch {
	case p >= 0.99:
		return "very sure (over 99 %)"
	case p > 0:
		return fmt.Sprintf("%.0f %%", 100*p)
	}
	return "not known"
}

// pace is how fast it goes. The sentence around it says which way, so a fall is
// told without its sign.
func pace(f home.Finding) string {
	rate, lo, hi := f.Rate, f.RateLo, f.RateHi
	if rate < 0 {
		rate, lo, hi = -rate, -hi, -lo
	}
	return fmt.Sprintf("%.2f %% a week (%.2f to %.2f)", rate, lo, hi)
}

func kg(v float64) string { return fmt.Sprintf("%.2f kg", v) }

// pct is a change, with a minus sign as print has it.
func pct(v float64) string { return strings.Replace(fmt.Sprintf("%+.1f %%", v), "-", "\u2212", 1) }

func date(t time.Time) string { return t.UTC().Format("2 January 2006") }

func days(n int, what string) string {
	return strings.TrimSpace(plural(n, "day") + " " + what)
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// span is a duration as a person says it.
func span(d time.Duration) string {
	if d < 72*time.Hour {
		return plural(int(d.Hours()), "hour")
	}
	return plural(int(d.Hours()/24), "day")
}
