package notify

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"weighbeam/home"
)

// MaxSubject is the length, in runes, that every subject line stays under.
const MaxSubject = 60

// matter says who can do something about a sign.
type matter int

const (
	health  matter = iota // a veterinary practice
	missing               // somebody who looks for the cat
	device                // whoever looks after the scale
	way                   // whoever looks after how people are told
	clock                 // whoever sets the clock of a scale
	hands                 // who looks at the cat by hand
)

// frame is what the two levels of a finding are.
type frame int

const (
	fromTo     frame = iota // before and after
	overLine                // a line that was published, and the mean of what went over it
	outOfRange              // a line that was crossed on either side, and what was measured
	reference               // the weight to compare with, and the weight now
)

// signWords is how one sign is said. No entry names a disease.
type signWords struct {
	matter  matter
	short   string // after the name, in a subject: at most 14 letters
	over    string // the same, when it is over
	opening string // a full sentence; %s is the name
	closing string // a full sentence, when it is over
	watch   string // what to watch for, after "Watch for"
	frame   frame
	one     string // what it rests on, one of them
	many    string // several of them
}

var words = map[home.Sign]signWords{
	home.WeightFalling: {health, "weight falling", "weight no longer falling",
		"%s is losing weight.", "%s's weight is no longer falling, as far as the readings show.",
		"eating less or much more than usual, drinking more, vomiting, hiding, or a coat that looks unkempt", fromTo, "day with a weighing", "days with a weighing"},
	home.WeightRising: {health, "weight rising", "weight no longer rising",
		"%s is gaining weight.", "%s's weight is no longer rising, as far as the readings show.",
		"a rounder belly, getting out of breath, moving or jumping less", fromTo, "day with a weighing", "days with a weighing"},
	home.WeightLow: {health, "weight low", "weight no longer low",
		"%s weighs well under the usual.", "%s's weight is no longer that far under the usual.",
		"eating less, vomiting, weakness, or a spine and hips that feel sharper than before", reference, "day with a weighing", "days with a weighing"},
	home.PlanTooFast: {health, "loss too fast", "loss not too fast",
		"%s is losing weight faster than the plan allows.", "%s is no longer losing weight faster than the plan allows, as far as the readings show.",
		"eating little or nothing, vomiting, hiding or weakness", fromTo, "day with a weighing", "days with a weighing"},
	home.BreathingRising: {health, "breath rate up", "breath rate back to usual",
		"%s breathes faster than is usual for this cat.", "%s's breathing is back near its usual pace.",
		"breathing that takes effort, a belly that pumps with each breath, restlessness, not wanting to lie down", fromTo, "count", "counts"},
	home.BreathingHigh: {health, "breathing fast", "breathing no longer fast",
		"%s has breathed faster than the published line, asleep or at rest, in several counts.", "%s's counted breaths are under the line again.",
		"breathing that takes effort or with an open mouth, restlessness, not wanting to lie down", overLine, "count", "counts"},
	home.RedFlagSeen: {health, "red flag seen", "red flag not seen since",
		"Somebody saw in %s a sign that cannot wait.", "The sign that was seen in %s has not been reported since.",
		"any of the signs at the end of this message", fromTo, "", ""},
	home.NotSeen: {missing, "not seen", "seen again",
		"No scale and no person has met %s for longer than is usual.", "%s has been met again.",
		"a cat that hides, does not come for food, or is shut in somewhere", fromTo, "", ""},
	home.ChannelFailing: {way, "does not work", "works again",
		"The %s does not take notices.", "The %s takes notices again.",
		"whatever it would have told; until it works, only the other channels and the pages tell", fromTo, "", ""},
	home.ScaleDrifting: {device, "scale drifting", "scale weighs evenly again",
		"The scale %s no longer weighs as it did: every cat on it seems to have changed at once.", "The scale %s weighs evenly again.",
		"a box that touches a wall or a foot that carries nothing; calibrate it with a known mass", fromTo, "", ""},
	home.PlanOff: {health, "loss off plan", "loss on plan",
		"%s does not lose the weight that was planned.", "%s's planned loss is under way, or at its end.",
		"treats and food from others", fromTo, "day with a weighing", "days with a weighing"},
	home.HeartOutOfRange: {health, "heart rate off", "heart rate in range",
		"%s's heart was counted out of range, more than once.", "%s's counted heart beats are in range again.",
		"weakness, cold paws, breathing that takes effort", outOfRange, "count", "counts"},
	home.TempOutOfRange: {health, "temperature", "temperature fine",
		"%s's temperature was out of range.", "%s's temperature is in range again.",
		"not eating, hiding, weakness", outOfRange, "reading", "readings"},
	home.NotEating: {health, "not eating", "has eaten again",
		"%s has taken nothing from the bowls that are weighed.", "%s has eaten again.",
		"vomiting, hiding, weakness, or food that is sniffed at and left", fromTo, "", ""},
	home.EatingLess: {health, "eating less", "eats as usual",
		"%s eats less than is usual for this cat.", "%s eats as is usual again.",
		"vomiting, drooling, food that is sniffed at and left, weight going down", fromTo, "day", "days"},
	home.DrinkingMore: {health, "drinking more", "drinks as usual",
		"%s drinks more than is usual for this cat.", "%s drinks as is usual again.",
		"larger clumps in the box, eating more or less, weight going down", fromTo, "day", "days"},
	home.LitterMore: {health, "more in box", "box as usual",
		"%s leaves more in the boxes than is usual for this cat.", "As much as is usual is in %s's boxes again.",
		"drinking more, accidents outside the box, weight going down", fromTo, "day", "days"},
	home.FrequentVisits: {health, "often on box", "box is calm",
		"%s goes to the litter box again and again and leaves nothing.", "%s's visits to the box are as usual again.",
		"straining, crying, licking under the tail, vomiting, hiding", fromTo, "visit", "visits"},
	home.NoLitterVisit: {health, "not on the box", "was on the box",
		"%s has not been on a litter box for longer than is usual.", "%s was on a litter box again.",
		"straining, crying, licking under the tail, vomiting, wet places elsewhere", fromTo, "", ""},
	home.ScoreMoving: {health, "score moving", "score steady",
		"The body or muscle score of %s has moved.", "The newest score of %s gives no reason any more.",
		"eating less or more, a spine and hips that feel sharper than before", fromTo, "", ""},
	home.PainScore: {health, "pain in face", "face calmer",
		"%s's face looked as if something hurts.", "%s's face was under the line at the newest check.",
		"hiding, a hunched back, not jumping, not letting you touch a place", fromTo, "", ""},
	home.LumpToShow: {health, "lump to show", "no lump to show",
		"%s has a lump that a vet should see.", "No lump of %s that should be seen is known any more.",
		"a lump that grows, opens, or hurts", fromTo, "", ""},
	home.CheckOverdue: {hands, "check overdue", "checked again",
		"Nobody has looked at %s by hand for a while.", "%s has been looked at by hand again.",
		"anything that is not as usual", fromTo, "", ""},
	home.ClockWrong: {clock, "clock off", "clock right",
		"The clock of the scale %s is wrong.", "The clock of the scale %s is right again.",
		"visits that stand at the wrong time", fromTo, "", ""},
	home.ScaleSilent: {device, "scale silent", "scale speaks again",
		"The scale %s has stopped sending.", "The scale %s sends again.",
		"whatever it would have shown you; until it sends again, nothing is known through it", fromTo, "", ""},
}

// wordsFor is how a sign is said; a sign without words of its own is said by its slug.
func wordsFor(f home.Finding) signWords {
	if w, ok := words[f.Sign]; ok {
		return w
	}
	plain := strings.ReplaceAll(string(f.Sign), "-", " ")
	w := signWords{health, plain, plain + ": over", "%s: " + plain + ".", "%s: " + plain + " is over.",
		"anything that is not as usual", fromTo, "reading", "readings"}
	if f.Cat == "" {
		w.matter = device
	}
	return w
}

// deed is what an urgency asks for: in a subject, and as full sentences.
type deed struct{ short, full string }

var deeds = map[matter]map[home.Urgency]deed{
	health: {
		home.Mention: {"Mention at next visit", "Mention it at the next visit to your veterinary practice. If the cat seems unwell, do not wait for that visit."},
		home.Book:    {"Book a vet visit", "Ring your veterinary practice within the next two days and book a visit; they decide how soon. If the cat seems unwell, ring at once."},
		home.Today:   {"Call the vet today", "Call your veterinary practice today, or the emergency service if it is closed. Do not wait for tomorrow."},
		home.Now:     {"Go to a vet now", "Go to a vet now, day or night, and ring on the way. Do not wait to see whether it passes."},
	},
	missing: {
		home.Mention: {"Look out for the cat", "Look out for the cat when you are home, and do a home check when it comes."},
		home.Book:    {"Look for the cat", "Look for the cat within the day. When it is found, do a home check; if it seems unwell, ring your veterinary practice."},
		home.Today:   {"Find the cat today", "Find the cat today, in every cupboard, cellar and shed too. If it is found unwell, or not found, ring your veterinary practice."},
		home.Now:     {"Find the cat now", "Find the cat now. If it seems unwell in any way, go to a vet at once."},
	},
	device: {
		home.Mention: {"Look when you can", "When you next pass, look at its power, its network and that nothing leans on it."},
		home.Book:    {"Look this week", "Within this week, look at its power, its network and that nothing leans on it. Weigh by hand meanwhile."},
		home.Today:   {"Look today", "Today, look at its power, its network and that nothing leans on it. Weigh and look at the cats by hand meanwhile."},
		home.Now:     {"Look now", "Now, look at its power, its network and that nothing leans on it. Look at the cats yourself meanwhile."},
	},
	way: {
		home.Mention: {"Look when you can", "When you have time, see on the page Notices why it fails, and try it there once it is mended."},
		home.Book:    {"Look this week", "Within this week, see on the page Notices why it fails, and try it there once it is mended."},
		home.Today:   {"Look today", "Today, see on the page Notices why it fails and what it did not tell, and try it there once it is mended."},
		home.Now:     {"Look now", "Now, see on the page Notices why it fails and what it did not tell, and try it there once it is mended."},
	},
	clock: {
		home.Mention: {"Set its clock", "When you have time, set the clock of the scale and its time zone, or let it send no time: then its readings are dated as they arrive."},
		home.Book:    {"Set it this week", "Within this week, set the clock of the scale and its time zone, or let it send no time: then its readings are dated as they arrive."},
		home.Today:   {"Set it today", "Today, set the clock of the scale and its time zone, or let it send no time: then its readings are dated as they arrive."},
		home.Now:     {"Set it now", "Now, set the clock of the scale and its time zone, or let it send no time: then its readings are dated as they arrive."},
	},
	hands: {
		home.Mention: {"Do a home check", "Do as much of a home check as the cat allows, when it suits you both. If the cat seems unwell, ring your veterinary practice."},
		home.Book:    {"Check this week", "Within this week, do as much of a home check as the cat allows. If the cat seems unwell, ring your veterinary practice."},
		home.Today:   {"Check today", "Today, do as much of a home check as the cat allows. If the cat seems unwell, ring your veterinary practice."},
		home.Now:     {"Check now", "Now, look at the cat. If it seems unwell in any way, go to a vet at once."},
	},
}

// deedFor is what the urgency of f asks for. An unknown urgency asks for a
// call today: too early is safer than too late. A red flag never asks for less
// than to go now.
func deedFor(f home.Finding) deed {
	if f.Sign == home.RedFlagSeen {
		return deeds[health][home.Now]
	}
	m := deeds[wordsFor(f).matter]
	if d, ok := m[f.Urgency]; ok {
		return d
	}
	return m[home.Today]
}

var turnTag = map[home.Turn]string{
	home.Worsened: "Worse. ",
	home.Eased:    "Eased. ",
	home.Updated:  "News. ",
	home.Closed:   "Over. ",
	home.Reminded: "Reminder. ",
}

// Subject is one line of fewer than MaxSubject runes that makes sense alone.
// A name too long for it is cut, never the words after it.
func Subject(f home.Finding, cat home.Cat, turn home.Turn) string {
	w := wordsFor(f)
	rest := w.short + ". " + deedFor(f).short + "."
	tag := turnTag[turn]
	switch {
	case turn == home.Worsened && f.Sign == home.RedFlagSeen:
		tag = "Again. "
	case turn == home.Closed && f.Unresolved():
		tag, rest = "", w.short+", no longer watched."
	case turn == home.Closed:
		rest = w.over + "."
	}
	room := MaxSubject - 1 - utf8.RuneCountInString(tag+": "+rest)
	// The second cut is for a sign without words of its own whose slug is long.
	return cut(tag+cut(nameOf(f, cat), max(room, 8))+": "+rest, MaxSubject-1)
}

// nameOf is what the finding is about, on one line.
func nameOf(f home.Finding, cat home.Cat) string {
	name := f.Source
	if channel, ok := home.ChannelOf(f); ok {
		name = "channel " + channel
	}
	if f.Cat != "" {
		name = cat.Name
	}
	if name = strings.Join(strings.Fields(name), " "); name == "" {
		return f.Subject()
	}
	return name
}

// cut shortens s to at most n runes, and shows that it did.
func cut(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return strings.TrimSpace(string([]rune(s)[:n-1])) + "…"
}

func opening(f home.Finding, cat home.Cat, turn home.Turn) string {
	w, name := wordsFor(f), nameOf(f, cat)
	first := fmt.Sprintf(w.opening, name)
	switch turn {
	case home.Worsened:
		if f.Sign == home.RedFlagSeen {
			return first + " You were told of one before; this was seen since then."
		}
		return first + " It has become more urgent since you were last told."
	case home.Eased:
		return first + " It has become less urgent, but it still stands."
	case home.Updated:
		return first + " Only the figures have moved."
	case home.Reminded:
		return first + " You were told before; it still stands, and nobody has said that they saw to it."
	case home.Closed:
		if f.Unresolved() {
			return fmt.Sprintf("This is no longer watched in %s. That does not say that it has passed.", name)
		}
		return fmt.Sprintf(w.closing, name)
	}
	return first
}
