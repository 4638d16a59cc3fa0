package manual

import "weighbeam/home"

// What is said beside a field that cannot be used.
const (
	msgNumber     = "This is not a number that can be read. Write it as 4.52 or 4,52."
	msgNegative   = "This cannot be negative."
	msgOunces     = "Ounces run from 0 to just under 16: write 9 lb 14 oz."
	msgCat        = "No cat of this name lives here. Choose one from the list."
	msgWhenEmpty  = "Say when this was seen."
	msgWhen       = "This is not a time that can be read. Write it as 2026-03-28T18:45."
	msgFuture     = "This lies in the future. Is the date right?"
	msgLongAgo    = "This lies very long ago. Is the year right?"
	msgTwoWays    = "Give the weight one way: on its own, or by difference."
	msgOther      = "Both weights are needed for a difference: this one is missing."
	msgOrder      = "With the cat it must be more than without."
	msgPerson     = "This is more than a bathroom scale shows. Is the unit right?"
	msgStep       = "A step lies between a thousandth and one whole unit."
	msgTogether   = "This is more than a cat weighs. If it is you and the cat together, use the two fields below."
	msgTooLittle  = "This is less than a newborn kitten weighs. Is the unit right?"
	msgDifference = "The difference is not what a cat can weigh. Are both numbers right?"
	msgUnit       = "Choose kg or lb."
	msgWhole      = "Breaths are counted in whole numbers."
	msgMany       = "This is more than any cat breathes in that time. Is the window right?"
	msgWindow     = "Choose how long was counted."
	msgState      = "Choose how the cat was: sleeping counts and others are kept apart."
	msgNote       = "This note is too long: keep it under about 8000 letters."
	msgBy         = "This name is too long: keep it under 200 letters."
	msgNothing    = "Nothing was filled in. Any one part is enough."
	msgKind       = "Choose one."
	msgExplain    = "Say what the reason is: it is kept beside the finding."
	msgDays       = "Choose when."
	msgUnstored   = "This was not stored. Everything is still below."
	guestWords    = "somebody who does not live here"
	msgUnread     = "Could not be read on the form"
)

// Names of the fields, as the list of what is wrong calls them.
var fieldNames = map[string]string{
	"cat": "Cat", "when": "When", "by": "Who", "unit": "Unit", "weight": "Weight on its own",
	"with": "You and the cat", "without": "You alone", "step": "Step of the scale",
	"breaths": "Breaths", "window": "How long", "state": "How the cat was", "note": "Note", "form": "The form",
}

// fieldOrder is the order of the fields on the page.
var fieldOrder = []string{"form", "cat", "when", "by", "unit", "weight", "with", "without", "step", "breaths", "window", "state", "note"}

func stateWords(s home.State) string {
	switch s {
	case home.Asleep:
		return "asleep"
	case home.Resting:
		return "resting, awake"
	case home.Active:
		return "after activity"
	case home.AtClinic:
		return "at the practice"
	}
	return string(s)
}

// kindWords is a reaction as the person says it, "" for an unknown one.
func kindWords(k home.ReactionKind) string {
	switch k {
	case home.SeenTo:
		return "I see to it"
	case home.VetKnows:
		return "The practice knows of it"
	case home.Explained:
		return "There is a harmless reason"
	case home.Snoozed:
		return "Remind me later"
	}
	return ""
}
