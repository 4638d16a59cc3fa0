package home

import "time"

// SetAside is something that could not be read. It is kept with the reason and
// can be tried again.
type SetAside struct {
	ID      int64 // given by the store
	Arrived time.Time
	Way     string // how it came: "mqtt", "http", "import"
	Topic   string // MQTT topic, URL path or file and line
	Payload []byte
	Reason  string
	Latest  bool // only the newest of its Way and Topic is kept, as for a topic that no scale claims
}

// Batch is what one commit takes in.
type Batch struct {
	Readings []Reading
	Checks   []HomeCheck
	SetAside []SetAside
}

// Tally is how the parts of a batch were settled. Each reading received is
// stored, a duplicate of one that is, or set aside; each payload that could not
// be read counts as one set aside.
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
