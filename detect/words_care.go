package detect

import (
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// The sentences of what is eaten, drunk and left, and of what a person counts and
// sees. See words.go.

const (
	warnOtherBox    = "If there is another box that is not weighed, or its visits were taken for another cat's, this is no surprise."
	warnLeftUnsure  = "A scale cannot tell urine from faeces, and litter that was dug out or carried off looks like nothing left: look into the box."
	warnBowls       = "It knows only the bowls that are weighed: food or water from elsewhere, a bowl that is off, or another cat at it looks the same."
	warnHeart       = "A cat that purrs, was just held or ran has a faster heart: count again when it rests."
	warnSlowHeart   = "A beat that is missed makes a count too low: count again over a full minute."
	warnTemperature = "Ear, armpit and far-off thermometers read otherwise than the usual way: measure again only if the cat lets you."
	warnScores      = "A score is one person's eye and hand: let the practice score it, too."
	warnPlanOff     = "What is given by others, and treats, count, too."

	litterVisited      = "The cat was on a litter box again."
	litterLeft         = "Something was left in the box again."
	litterCalm         = "No such visits for a day."
	litterGone         = "No visit to a litter box that the scale could judge for three days."
	eatenAgain         = "The cat has eaten again."
	eatingUsual        = "The cat eats as is usual again."
	drinkingUsual      = "The cat drinks as is usual again."
	litterUsual        = "As much as is usual is left in the boxes again."
	heartInRange       = "The counts are in range again."
	temperatureInRange = "The temperature is in range again."
	scoreBack          = "The newest score gives no reason any more."
	painUnder          = "The newest score is under the line."
	lumpsGone          = "No lump that should be seen is known any more."
	planReached        = "The target is reached."
	planUnderWay       = "The planned loss is under way."
)

func noLitterText(gone, limit time.Duration) string {
	return fmt.Sprintf("The cat was not on a litter box for %s, though it was met elsewhere. By its own habit it would have gone within %s. "+
		"Look into every box and at the cat. %s If it strains and passes no urine, go to a vet now.", span(gone), span(limit), advice(home.Today))
}

func frequentText(quick, all int, male bool) string {
	text := fmt.Sprintf("The cat went to the litter box %s and left nothing that the scale can tell", plural(all, "time"))
	if quick >= quickTimes {
		text = fmt.Sprintf("The cat went to the litter box %s within two hours and left nothing that the scale can tell", plural(quick, "time"))
	}
	if male {
		return text + ". In a male cat this cannot wait. " + advice(home.Now)
	}
	return text + ". " + advice(home.Today) + " If it strains and passes no urine, go to a vet now."
}

func notEatingText(gone time.Duration) string {
	return fmt.Sprintf("Nothing was taken from the bowls that are weighed for %s. See whether the cat eats. If it does not: %s "+
		"A kitten, a heavy cat or one that is ill should not wait even so long.", span(gone), lower(advice(home.Today)))
}

func eatingText(f home.Finding) string {
	return fmt.Sprintf("The cat eats less: %.0f g a day in the last %s, where %.0f g is its usual (%s). %s",
		f.After, plural(f.Data, "day"), f.Before, pct(f.ChangePct), advice(f.Urgency))
}

func drinkingText(f home.Finding) string {
	return fmt.Sprintf("The cat drinks more: about %.0f mL a day in the last week, where %.0f mL is its usual (%s). %s",
		f.After, f.Before, pct(f.ChangePct), advice(f.Urgency))
}

func overLineText(f home.Finding) string {
	return fmt.Sprintf("The cat drinks much: about %.0f mL a day in the last week, over the line of %.0f mL for what it weighs. %s",
		f.After, f.Before, advice(f.Urgency))
}

func litterMoreText(f home.Finding) string {
	return fmt.Sprintf("The cat leaves more in its boxes: about %.0f g a day in the last week, where %.0f g is its usual (%s). %s",
		f.After, f.Before, pct(f.ChangePct), advice(f.Urgency))
}

func heartText(f home.Finding) string {
	side := "under"
	if f.After > f.Before {
		side = "over"
	}
	return fmt.Sprintf("The heart beats %.0f times a minute at rest, in %s: %s the line of %.0f. %s If the cat is weak, cold or breathes hard, go to a vet now.",
		f.After, plural(f.Data, "count"), side, f.Before, advice(f.Urgency))
}

func recountHeart(perMinute float64) string {
	return fmt.Sprintf("Whether the heart is out of range: one count of %.0f a minute alone says little. Count again within two days, while the cat rests.", perMinute)
}

func temperatureText(f home.Finding) string {
	side := "over"
	if f.After < f.Before {
		side = "under"
	}
	return fmt.Sprintf("The temperature is %.1f \u00b0C, %s the line of %.1f \u00b0C. %s", f.After, side, f.Before, advice(f.Urgency))
}

func scoreText(why []string, u home.Urgency) string {
	return "At a home check: " + strings.Join(why, "; ") + ". " + advice(u)
}

func bodyThin(score float64) string {
	return fmt.Sprintf("a body condition of %.0f of 9, which is thin", score)
}

func bodyMoved(before, now float64, since time.Time) string {
	return fmt.Sprintf("the body condition went from %.0f to %.0f of 9 since %s", before, now, date(since))
}

func muscleGoing(step int) string {
	return "the muscles show a " + strings.ReplaceAll(muscleSteps[step], "-", " ")
}

func muscleMoved(since time.Time) string {
	return "there is clearly less muscle than on " + date(since)
}

func painText(sum, most float64) string {
	return fmt.Sprintf("The face scores %.0f of %.0f, over the line that asks whether it hurts. %s", sum, most, advice(home.Today))
}

func lumpText(why []string) string {
	return "A lump to show to a vet: " + strings.Join(why, "; ") + ". " + advice(home.Book)
}

func lumpAt(l home.Lump, why string) string {
	size := ""
	if l.SizeMm() > 0 {
		size = fmt.Sprintf(", %.0f mm", l.SizeMm())
	}
	return l.Place.Words() + size + ", " + why
}

func planOffText(f home.Finding, target float64) string {
	return fmt.Sprintf("The planned loss does not come: %s over four weeks, at %s, where %s was agreed as the target. %s",
		pct(f.ChangePct), kg(f.After), kg(target), advice(f.Urgency))
}

// lower makes a sentence follow a colon.
func lower(s string) string { return strings.ToLower(s[:1]) + s[1:] }
