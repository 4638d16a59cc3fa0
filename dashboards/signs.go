package dashboards

import (
	"strings"

	"weighbeam/home"
)

// signs says of each sign what it is, as a heading, and what would show it to be wrong.
var signs = map[home.Sign]struct{ title, mind string }{
	home.WeightFalling: {"Weight is falling",
		"A weighing on another scale that does not agree, a scale that was moved or cleaned when the change began, or a weight goal agreed with the practice. Weigh by hand to find out."},
	home.WeightRising: {"Weight is rising",
		"A weighing on another scale that does not agree, a scale that was moved or cleaned when the change began, or a weight goal agreed with the practice. Weigh by hand to find out."},
	home.WeightLow: {"Weight is far below its reference",
		"A weighing on another scale that does not agree, a scale that was moved or cleaned when the change began, or a weight goal agreed with the practice. Weigh by hand to find out."},
	home.BreathingRising: {"Sleeping breaths are rising",
		"Counts taken in a warm room, while purring or dreaming, or soon after play. Count again, asleep, on another day."},
	home.BreathingHigh: {"Sleeping breaths are repeatedly high",
		"Counts taken in a warm room, while purring or dreaming, or soon after play. Count again, asleep, on another day."},
	home.RedFlagSeen: {"A red flag was seen",
		"Nothing here: what was seen cannot wait. A practice finds out."},
	home.NotSeen: {"Not weighed or checked for a while",
		"A weighing or a home check."},
	home.ScaleSilent: {"A scale has gone silent",
		"A message from the scale."},
	home.ChannelFailing: {"A channel does not take notices",
		"A message that the channel takes: try it on the page Notices."},
	home.ClockWrong: {"The clock of a scale is wrong",
		"A reading of the scale that carries the right time."},
	home.ScaleDrifting: {"A scale drifts: calibrate it",
		"A known mass that it weighs as before, or a reason why all cats changed at once, as a new food."},
	home.PlanTooFast: {"A planned loss is too fast",
		"A plan that was changed and not entered here, or a scale that was moved. Weigh by hand to find out."},
	home.PlanOff: {"A planned loss does not come",
		"A plan that was changed and not entered here, or a scale that was moved. Weigh by hand to find out."},
	home.HeartOutOfRange: {"Heart beats are out of range",
		"Counts taken in excitement, purring, or soon after play. Count again at rest, on another day."},
	home.TempOutOfRange: {"Temperature is out of range",
		"A measurement taken after a struggle or in the sun, or a probe that did not stay long enough."},
	home.NotEating: {"Nothing eaten from the bowls",
		"Food from another bowl, another person or another house, a new food, or a bowl that is not weighed."},
	home.LitterMore: {"More is left in the boxes",
		"A change from wet to dry food, hot weather, another animal at the bowl, or litter that was topped up without a word."},
	home.FrequentVisits: {"Often on the litter box, leaving nothing",
		"Visits of another cat that were taken for this one's, or a place outside the weighed boxes. Look at the cat, not at the box, and do not wait."},
	home.NoLitterVisit: {"Not on a litter box for a while",
		"Visits of another cat that were taken for this one's, or a place outside the weighed boxes. Look at the cat, not at the box, and do not wait."},
	home.ScoreMoving: {"A body or muscle score has moved",
		"A second look by the same person on another day, the cat awake and left alone."},
	home.PainScore: {"The face looks as if something hurts",
		"A second look by the same person on another day, the cat awake and left alone."},
	home.LumpToShow: {"A lump to show to a vet",
		"A vet's eye and hand, and nothing less."},
	home.CheckOverdue: {"Not looked at by hand for a while",
		"A home check, or a count of breaths."},
	home.EatingLess: {"Eating less than usual",
		"Food from another bowl, another person or another house, a new food, or a bowl that is not weighed."},
	home.DrinkingMore: {"Drinking more than usual",
		"A change from wet to dry food, hot weather, another animal at the bowl, or litter that was topped up without a word."},
}

// signWords is a sign as a heading; one without words of its own is its slug.
func signWords(s home.Sign) string {
	if known, ok := signs[s]; ok {
		return known.title
	}
	word := strings.ReplaceAll(string(s), "-", " ")
	if word == "" {
		return "Something changed"
	}
	return strings.ToUpper(word[:1]) + word[1:]
}

// mindWords says what would show the finding to be wrong.
func mindWords(s home.Sign) string { return signs[s].mind }
