package home

import (
	"strings"
	"time"
)

// Notice is one message about a finding to one channel.
type Notice struct {
	ID       string // stable, so that a receiver can drop a second copy
	Finding  string // Finding.ID
	Turn     Turn   // what it tells
	Urgency  Urgency
	Channel  string // name of the channel in the configuration
	Subject  string
	Body     string
	Created  time.Time
	State    NoticeState
	Reason   string    // why it is in this state, in plain words
	Decided  time.Time // when that was decided; zero: when it was created
	Attempts int       // how often sending was tried
	Due      time.Time // when to try next, while waiting
	Sent     time.Time // when the channel took it
}

// NoticeStep is one decision about a notice, as it was when it was made.
type NoticeStep struct {
	Notice string // Notice.ID
	At     time.Time
	State  NoticeState
	Reason string
	Due    time.Time // when to try next, while waiting
}

// ChannelRecord is what is remembered of a channel.
type ChannelRecord struct {
	Channel string
	Took    time.Time // when it last took a message; zero for never
	Failed  time.Time // when it last did not; zero for never
	Since   time.Time // the first time that it did not since it last took one; zero where it took the last
	Why     string    // why it did not then, without secrets
}

// ChannelSource is the source of a finding about a channel: no scale can have
// that name.
func ChannelSource(channel string) string { return "channel:" + channel }

// ChannelOf is the channel that a finding is about, and whether it is about one.
func ChannelOf(f Finding) (string, bool) { return strings.CutPrefix(f.Source, ChannelSource("")) }

// NoticeState is where a notice stands.
type NoticeState string

// The states of a notice. Sent, Withheld and GivenUp are final.
const (
	Waiting  NoticeState = "waiting"  // to be sent at Due
	Sent     NoticeState = "sent"     // the channel took it
	Withheld NoticeState = "withheld" // by a rule; Reason says which
	GivenUp  NoticeState = "given-up" // the channel would not take it
)

// Caution goes with every page that gives advice, every sheet and every notice.
const Caution = "Weighbeam watches; it does not diagnose. Your veterinary practice decides. " +
	"If the cat struggles to breathe, breathes with an open mouth, has blue, white or grey gums, collapses, " +
	"strains without passing urine, drags its hind legs or has eaten poison, go to a vet now, whatever is written here."
