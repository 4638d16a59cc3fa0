package manual

import (
	"slices"
	"strings"

	"weighbeam/home"
)

// What is said beside a field that cannot be used: keys of the catalogue.
const (
	msgNumber      = "wrong.number"
	msgNegative    = "wrong.negative"
	msgOunces      = "wrong.ounces"
	msgCat         = "wrong.cat"
	msgWhenEmpty   = "wrong.when-empty"
	msgWhen        = "wrong.when"
	msgFuture      = "wrong.future"
	msgLongAgo     = "wrong.long-ago"
	msgTwoWays     = "wrong.two-ways"
	msgOther       = "wrong.other"
	msgOrder       = "wrong.order"
	msgPerson      = "wrong.person"
	msgStep        = "wrong.step"
	msgTogether    = "wrong.together"
	msgTooLittle   = "wrong.too-little"
	msgDifference  = "wrong.difference"
	msgUnit        = "wrong.unit"
	msgWhole       = "wrong.whole"
	msgMany        = "wrong.many"
	msgWindow      = "wrong.window"
	msgState       = "wrong.state"
	msgNote        = "wrong.note"
	msgBy          = "wrong.by"
	msgNothing     = "wrong.nothing"
	msgKind        = "wrong.kind"
	msgExplain     = "wrong.explain"
	msgDays        = "wrong.days"
	msgUnstored    = "wrong.unstored"
	msgUnread      = "wrong.unread"
	msgPart        = "wrong.part"
	msgUsual       = "wrong.usual"
	msgOne         = "wrong.one"
	msgRange       = "wrong.range"
	msgHeat        = "wrong.heat"
	msgPlace       = "wrong.place"
	msgLump        = "wrong.lump"
	msgDate        = "wrong.date"
	msgGiven       = "wrong.given"
	msgGivenLong   = "wrong.given-long"
	msgPhoto       = "wrong.photo"
	msgPhotoBig    = "wrong.photo-big"
	msgPhotoPixels = "wrong.photo-pixels"
	msgPhotoMany   = "wrong.photo-many"
	msgWhy         = "wrong.why"
	msgCorrected   = "wrong.corrected"
)

// plainFields are the fields whose names are their own, in the order of the page.
var plainFields = []string{
	"form", "cat", "when", "by", "unit", "weight", "with", "without", "step", "breaths", "window", "state",
	"beats", "beats-window", "beats-state", "temperature", "temperature-unit",
	"new-place", "new-side", "new-length", "new-width", "new-height", "new-first", "new-note", "photo", "caption", "note", "why",
}

// fieldName is what the list of what is wrong calls a field.
func (c catalogue) fieldName(field string) string {
	if key, ok := strings.CutPrefix(field, partPrefix); ok {
		return c.partName(key)
	}
	if key, ok := strings.CutPrefix(field, numberPrefix); ok {
		return c.partName(key)
	}
	switch {
	case strings.HasPrefix(field, lumpPrefix):
		return c.say("section.lumps")
	case strings.HasPrefix(field, givenPrefix):
		return c.say("given.title")
	}
	return c.say("field." + field)
}

// partName is a part with its side, as "eyes-left", in words.
func (c catalogue) partName(key string) string {
	for _, side := range []home.Side{home.Left, home.Right} {
		if part, ok := strings.CutSuffix(key, "-"+string(side)); ok {
			return c.say("part."+part) + ", " + c.say("side."+string(side))
		}
	}
	return c.say("part." + key)
}

// inOrder lists the fields that something is wrong with, in the order of the page.
func inOrder(wrong map[string]string) []string {
	var fields []string
	for f := range wrong {
		fields = append(fields, f)
	}
	slices.SortFunc(fields, func(a, b string) int {
		i, j := slices.Index(plainFields, a), slices.Index(plainFields, b)
		if i != j {
			return i - j // what is not plain comes first, but for the form itself
		}
		return strings.Compare(a, b)
	})
	return fields
}
