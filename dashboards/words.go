package dashboards

import (
	"strings"

	"weighbeam/home"
)

// signWords is a sign as a heading.
func signWords(s home.Sign) string {
	switch s {
	case home.WeightFalling:
		return "Weight is falling"
	case home.WeightRising:
		return "Weight is rising"
	case home.WeightLow:
		return "Weight is far below its reference"
	case home.BreathingRising:
		return "Sleeping breaths are rising"
	case home.BreathingHigh:
		return "Sleeping breaths are repeatedly high"
	case home.RedFlagSeen:
		return "A red flag was seen"
	case home.NotSeen:
		return "Not weighed or checked for a while"
	case home.ScaleSilent:
		return "A scale has gone silent"
	case home.ChannelFailing:
		return "A channel does not take notices"
	case home.ClockWrong:
		return "The clock of a scale is wrong"
	case home.ScaleDrifting:
		return "A scale drifts: calibrate it"
	}
	word := strings.ReplaceAll(string(s), "-", " ")
	if word == "" {
		return "Something changed"
	}
	return strings.ToUpper(word[:1]) + word[1:]
}

// scaleUrgency says when a person should look at a scale: no practice is to be
// called about it.
func scaleUrgency(u home.Urgency) string {
	switch u {
	case home.Now, home.Today:
		return "See to it today"
	case home.Book:
		return "See to it this week"
	}
	return "See to it when you can"
}

// urgencyWords says what a person should do about a cat.
func urgencyWords(u home.Urgency) string {
	switch u {
	case home.Now:
		return "Go to a vet now"
	case home.Today:
		return "Call the practice today"
	case home.Book:
		return "Book a visit"
	case home.Mention:
		return "Mention at the next visit"
	}
	return "Look at this"
}

// quietWords is what to say of a cat of whom nothing is open.
func quietWords(o home.Outlook) string {
	switch {
	case !o.Weight.Known && !o.Asleep.Known:
		return "Not enough is known yet to find anything."
	case len(o.Unknown) > 0:
		return "Nothing found that needs you. Not everything is known, see below."
	}
	return "Nothing found that needs you."
}

// deed is what to do about a finding.
func deed(f home.Finding) string {
	if f.Cat == "" {
		return scaleUrgency(f.Urgency)
	}
	return urgencyWords(f.Urgency)
}

func turnWords(t home.Turn) string {
	switch t {
	case home.Raised:
		return "found"
	case home.Worsened:
		return "more urgent"
	case home.Eased:
		return "less urgent"
	case home.Updated:
		return "figures changed"
	case home.Closed:
		return "closed"
	case home.Reminded:
		return "reminder"
	case home.Daily:
		return "digest"
	}
	return string(t)
}

func stateWords(s home.NoticeState) string {
	switch s {
	case home.Waiting:
		return "waiting"
	case home.Sent:
		return "sent"
	case home.Withheld:
		return "not sent"
	case home.GivenUp:
		return "could not be delivered"
	}
	return string(s)
}

// saidWords is a reaction as it stands beside a finding.
func saidWords(k home.ReactionKind) string {
	switch k {
	case home.SeenTo:
		return "somebody sees to it"
	case home.VetKnows:
		return "the practice knows of it"
	case home.Explained:
		return "there is a harmless reason"
	case home.Snoozed:
		return "to be reminded"
	}
	return string(k)
}

func sourceWords(id string) string {
	switch id {
	case home.Hand:
		return "by hand"
	case home.Clinic:
		return "at the practice"
	}
	return id
}

func kindWords(k home.Kind) string {
	switch k {
	case home.LitterBox:
		return "litter box"
	case home.Feeder:
		return "feeder"
	case home.Water:
		return "water bowl"
	case home.Floor:
		return "floor scale"
	}
	return "not in the household"
}

func stateOfCat(s home.State) string {
	switch s {
	case home.Active:
		return "after activity"
	case home.AtClinic:
		return "at the practice"
	}
	return string(s)
}

func wayWords(way string) string {
	switch way {
	case "mqtt":
		return "MQTT"
	case "http":
		return "HTTP"
	}
	return way
}

// payloadWords says how the numbers of a scale are read.
func payloadWords(p string) string {
	kind, at, _ := strings.Cut(p, ":")
	switch {
	case p == "" || p == "senml":
		return "SenML"
	case p == "senml-cbor":
		return "SenML as CBOR"
	case p == "number":
		return "a plain number"
	case p == "csv":
		return "readings CSV"
	case kind == "json":
		return "JSON, the number at " + at
	case kind == "line":
		return "line protocol, the field " + at
	}
	return p
}

func clockWords(c home.Clock) string {
	switch c {
	case home.ByDevice:
		return "by the clock of the device"
	case home.ByArrival:
		return "as it arrived"
	}
	return "as a person said"
}

func unitWords(code string) string {
	switch code {
	case "kg":
		return "kilograms"
	case "g":
		return "grams"
	case "[lb_av]":
		return "pounds"
	case "[oz_av]":
		return "ounces"
	}
	return code
}

// mindWords says what would show the finding to be wrong.
func mindWords(s home.Sign) string {
	switch s {
	case home.WeightFalling, home.WeightRising, home.WeightLow:
		return "A weighing on another scale that does not agree, a scale that was moved or cleaned when the change began, or a weight goal agreed with the practice. Weigh by hand to find out."
	case home.BreathingRising, home.BreathingHigh:
		return "Counts taken in a warm room, while purring or dreaming, or soon after play. Count again, asleep, on another day."
	case home.ScaleSilent:
		return "A message from the scale."
	case home.ChannelFailing:
		return "A message that the channel takes: try it on the page Notices."
	case home.ClockWrong:
		return "A reading of the scale that carries the right time."
	case home.ScaleDrifting:
		return "A known mass that it weighs as before, or a reason why all cats changed at once, as a new food."
	case home.NotSeen:
		return "A weighing or a home check."
	}
	return ""
}
