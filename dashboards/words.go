package dashboards

import (
	"strings"

	"weighbeam/home"
)

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
	if f.Sign == home.CheckOverdue { // nothing that a practice is told
		return "Do a home check"
	}
	return urgencyWords(f.Urgency)
}

func turnWords(n home.Notice) string {
	switch n.Turn {
	case home.Raised:
		return "found"
	case home.Worsened:
		if strings.Contains(n.Finding, "/"+string(home.RedFlagSeen)+"/") { // there is nothing more urgent
			return "seen again"
		}
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
	return string(n.Turn)
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
