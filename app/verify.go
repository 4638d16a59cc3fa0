package app

import (
	"context"
	"fmt"
	"time"

	"weighbeam/home"
)

// Verdict is what verifying one part found.
type Verdict struct {
	Part  string `json:"part"`
	State string `json:"state"` // well, look or wrong
	Text  string `json:"text"`
	Do    string `json:"do,omitempty"` // what to do about it, a full sentence
}

// The states of a verdict.
const (
	Well  = "well"
	Look  = "look"  // it works, and may not for long, or not as one thinks
	Wrong = "wrong" // it does not work
)

// verifier gathers verdicts.
type verifier struct {
	cfg      Config
	now      time.Time
	verdicts []Verdict
}

// Verify looks at everything that the settings name, as the program would use it,
// whether it runs or not. Nothing is sent to anybody and nothing is stored. It takes
// at most a minute.
func (c Config) Verify(ctx context.Context, now time.Time) []Verdict {
	v := &verifier{cfg: c, now: now}
	for _, part := range []func(context.Context){
		v.settings, v.household, v.words, v.secrets, v.store, v.strangers, v.disk, v.clock, v.pages, v.door, v.certificate, v.broker, v.mirror, v.contacts, v.topics, v.channels,
	} {
		ctx, cancel := context.WithTimeout(ctx, 15*time.Second)
		part(ctx)
		cancel()
	}
	return v.verdicts
}

func (v *verifier) say(part, state, do, format string, args ...any) {
	v.verdicts = append(v.verdicts, Verdict{part, state, fmt.Sprintf(format, args...), do})
}

// fail says an error with its own hint, or else.
func (v *verifier) fail(part string, err error, otherwise string) {
	do := home.Hint(err)
	if do == "" {
		do = otherwise
	}
	v.say(part, Wrong, do, "%v", err)
}

// settings looks whether a start would take them.
func (v *verifier) settings(context.Context) {
	const part = "settings"
	if err := v.cfg.Usable(); err != nil {
		v.fail(part, err, "Correct that in the settings.")
		return
	}
	v.say(part, Well, "", "Can be used.")
}

func (v *verifier) household(context.Context) {
	const part = "household"
	if v.cfg.Household == "" {
		v.say(part, Well, "", "No file is named: cats and scales are those in the store.")
		return
	}
	h, err := ReadHousehold(v.cfg.Household)
	switch {
	case err != nil:
		v.fail(part, err, "Correct the household file.")
	case len(h.Cats) == 0:
		v.say(part, Look, "Add a [[cat]] to the household file.", "%s names no cat.", v.cfg.Household)
	default:
		v.say(part, Well, "", "%d cats and %d scales.", len(h.Cats), len(h.Scales))
	}
}

// clockSlack is how far the newest arrival may be ahead of the clock.
const clockSlack = 2 * time.Minute

// clock looks whether the clock of the machine can be right: it dates readings of
// devices that have none.
func (v *verifier) clock(ctx context.Context) {
	const part = "clock"
	const do = "Set the clock and let the machine keep it: timedatectl set-ntp true."
	newest, err := v.newest(ctx)
	switch kept, known := clockKept(); {
	case err == nil && newest.After(v.now.Add(clockSlack)):
		v.say(part, Wrong, do, "It is %s by the clock, and the newest reading arrived at %s.", v.now.Format(time.RFC3339), newest.Format(time.RFC3339))
	case v.now.Year() < 2026:
		v.say(part, Wrong, do, "It is %s by the clock, before this program was written.", v.now.Format(time.DateOnly))
	case known && !kept:
		v.say(part, Look, do, "The machine does not say that anything keeps its clock right. Devices without a clock are dated by it.")
	default:
		v.say(part, Well, "", "%s.", v.now.Format(time.RFC1123Z))
	}
}
