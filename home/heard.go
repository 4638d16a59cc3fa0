package home

import "time"

// Heard is one message as it arrived and as it was understood, whether or not
// anything of it was stored.
type Heard struct {
	ID        int64 // counts up from 1
	Time      time.Time
	Way       string
	Topic     string
	Payload   []byte // the beginning
	Bytes     int    // of the whole payload
	Retained  bool   // a copy that a broker kept
	Readings  []Reading
	More      int           // readings that are not listed
	Why       string        // what of it was not understood, "" for nothing
	Gap       time.Duration // since the last message on the topic, 0 for the first
	PerSecond float64       // messages on the topic of late, 0 where not known
}

// Speaker is what is known of one topic since the program started.
type Speaker struct {
	Topic       string
	Count, Bad  int64 // messages, and those of them that were not understood wholly
	First, Last time.Time
	Longest     time.Duration // gap
	PerSecond   float64       // of late, 0 where not known
}
