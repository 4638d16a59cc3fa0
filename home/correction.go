package home

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Correction takes an entry of a person back, or puts another in its place. The
// entry stays in the history; nothing derived sees it any more.
type Correction struct {
	ID          string // unique; the same correction sent twice is one
	Cat         string
	Matter      Matter // OfCheck, OfCare or OfReading
	Target      string // id of the check or event, or Reading.Key
	Replacement string // id of what takes its place, of the same matter; "" for nothing
	At          time.Time
	By          string // who corrected it, as they call themselves
	Why         string
}

// ErrCorrected is returned, wrapped, where an entry was corrected before: the
// newer one is the one to correct.
var ErrCorrected = fmt.Errorf("it was corrected already")

// Void reports whether nothing takes the entry's place.
func (c Correction) Void() bool { return c.Replacement == "" }

// Valid returns nil if c can be stored, or what is wrong with it.
func (c Correction) Valid() error {
	switch {
	case c.ID == "" || len(c.ID) > 100:
		return fmt.Errorf("a correction needs an id of at most 100 bytes")
	case c.Matter != OfCheck && c.Matter != OfCare && c.Matter != OfReading:
		return fmt.Errorf("a correction is of a check, an event or a reading, not of a %q", string(c.Matter))
	case c.Target == "" || len(c.Target) > 300 || len(c.Replacement) > 300:
		return fmt.Errorf("a correction needs what it corrects")
	case c.Target == c.Replacement:
		return fmt.Errorf("a correction cannot put an entry in its own place")
	case c.At.IsZero():
		return fmt.Errorf("a correction needs a time")
	case strings.TrimSpace(c.Why) == "":
		return fmt.Errorf("say why it is corrected")
	case len(c.Why) > MaxNote || len(c.By) > 200:
		return fmt.Errorf("keep the reason under %d bytes and the name under 200", MaxNote)
	}
	return ValidID("cat", c.Cat)
}

// Key names r among all readings: what a correction calls it by.
func (r Reading) Key() string {
	return strings.Join([]string{r.Source, string(r.Quantity), strconv.FormatInt(r.Time.UnixMicro(), 10), strconv.FormatInt(r.Seq, 10), r.Cat}, "/")
}
