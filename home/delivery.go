package home

import (
	"fmt"
	"strings"
	"time"
)

// SetAside is something that could not be read. It is kept with the reason and
// can be tried again.
type SetAside struct {
	ID       int64 // given by the store
	Arrived  time.Time
	Way      string // how it came: "mqtt", "http", "import"
	Topic    string // MQTT topic, URL path or file and line
	Payload  []byte
	Reason   string
	Latest   bool // only the newest of its Way and Topic is kept, as for a topic that no scale claims
	Times    int  // how often it came, 1 where nobody counted
	Retained bool // a copy that a broker kept
	Cut      bool // only the beginning of the payload is kept, so it cannot be tried again
}

// Imported is the Way of what a file held.
const Imported = "import"

const rowWord = " line "

// RowOf is the Topic of a row of an imported file.
func RowOf(file string, n int) string { return fmt.Sprint(file, rowWord, n) }

// Of is what s belongs to, and is dismissed together with: the file of an import, or the
// topic.
func (s SetAside) Of() string {
	if i := strings.LastIndex(s.Topic, rowWord); s.Way == Imported && i >= 0 {
		return s.Topic[:i]
	}
	return s.Topic
}

// Came is when a payload that was set aside came, once of as often as it did.
type Came struct {
	At       time.Time
	Retained bool // as a copy that a broker kept
}

// Retried is what became of something set aside that was tried again.
type Retried struct {
	ID      int64     // of the [SetAside]
	Arrived time.Time // of what was tried: where the same came at another time, that still waits
	Reason  string    // why it still cannot be read; "" where it was
	Latest  bool      // as in [SetAside]
}

// Retry is what came of trying again what was set aside.
type Retry struct {
	Tried int
	Read  int        // wholly, and settled
	Left  []SetAside // those of them that still wait, without payload, with the reason of now
}

// Batch is what one commit takes in.
type Batch struct {
	Readings []Reading
	Checks   []HomeCheck
	Photos   []PhotoFile // of the checks
	Care     []Care
	SetAside []SetAside
	Retried  []Retried
	Answers  []Answer
	Stored   time.Time // when it is stored, by the clock of the house; zero where nobody says

	// Refused, where not nil, hears of each of Readings that contradicts what is stored and
	// is set aside for that, by its index. It hears it within the commit, before Answers are
	// filled in; a commit that fails is tried again.
	Refused func(i int, why string)
}

// Hash is a SHA-256 sum.
type Hash [32]byte

// Answer is what is answered to a request that carries a key, so that the same
// request sent again, after a crash too, is answered as it was and stores nothing
// twice. It is committed with what it answers for.
type Answer struct {
	Key     Hash // of who sent it and the key
	Request Hash // of what was sent
	Status  int  // HTTP
	Type    string
	Body    []byte

	// Fill, where not nil, says within the commit what is answered: only then is it known
	// what became of the readings.
	Fill func(*Answer)
}

// Tally is how the parts of a batch were settled. Each reading received is
// stored, a duplicate of one that is, or set aside; each payload that could not
// be read, or still cannot, counts as one set aside.
type Tally struct {
	Stored    int
	Duplicate int
	SetAside  int
}

// Add returns the sum of two tallies.
func (t Tally) Add(u Tally) Tally {
	return Tally{t.Stored + u.Stored, t.Duplicate + u.Duplicate, t.SetAside + u.SetAside}
}

// Received is how many were settled in all.
func (t Tally) Received() int { return t.Stored + t.Duplicate + t.SetAside }
