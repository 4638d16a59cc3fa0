package payload

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// Bounds of a device clock that is believed. The earliest is well before this
// program and well after the dates at which clocks wake up that were never set
// (1970, 2000, 2016 in common parts: common practice, no published source).
var EarliestClock = time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)

// FutureTolerance is how far a device clock may run ahead of the house.
const FutureTolerance = 5 * time.Minute

// wrongClock is what is wrong with the clock of a device.
type wrongClock int

const (
	clockRight wrongClock = iota
	clockUnset
	clockCounts // counts from its start, and was never set
	clockAhead
	wrongClocks
)

var wrongText = [wrongClocks]string{clockUnset: "was never set", clockCounts: "was never set", clockAhead: "runs ahead"}

// longestPack is how far apart two times of a wrong clock in one payload may be for
// their distance to be believed: beyond it the clock was moved in between (common
// practice, no published source).
const longestPack = 7 * 24 * time.Hour

// wrong judges a time that a device gave. relative: it counted it from the arrival,
// where what is far ahead is a clock that has counted from zero since its start.
func (a Arrival) wrong(device time.Time, relative bool) wrongClock {
	switch ahead := device.Sub(a.Time) > FutureTolerance; {
	case device.IsZero():
		return clockRight
	case device.Before(EarliestClock):
		return clockUnset
	case ahead && relative:
		return clockCounts
	case ahead:
		return clockAhead
	}
	return clockRight
}

// see notes a time of the payload, before any of it is dated: the newest that a wrong
// clock gave is taken for the arrival, and the others keep their distance to it.
func (a *Arrival) see(device time.Time, relative bool) {
	if w := a.wrong(device, relative); w != clockRight && device.After(a.newest[w]) {
		a.newest[w] = device
	}
}

// instead is when something was true that a wrong clock dated.
func (a Arrival) instead(device time.Time, w wrongClock) time.Time {
	if behind := a.newest[w].Sub(device); behind > 0 && behind <= longestPack {
		return a.Time.Add(-behind)
	}
	return a.Time
}

// draft is a reading as a device wrote it: its own unit, and its own idea of time.
type draft struct {
	home.Reading
	unit     string    // UCUM
	device   time.Time // zero where the device sent no time
	relative bool      // the device counted device from the arrival: it needs no clock for that
}

// finish converts, dates and checks d.
func (d draft) finish(a Arrival) (home.Reading, error) {
	r, err := d.converted()
	if err != nil {
		return r, err
	}
	if err := d.date(&r, a); err != nil {
		return r, err
	}
	r.Arrived, r.Retained, r.Resent = a.Time, a.Retained, a.Resent
	r.Time = r.Time.Round(home.TimeStep) // before Normal cuts: a float of seconds is off by less than half a step
	r = r.Normal()
	return r, r.Valid()
}

// converted is d in its quantity's own unit. What comes in that unit is not
// touched: arithmetic that should change nothing can change the last bit, and the
// same reading by another way would then look like another.
func (d draft) converted() (home.Reading, error) {
	r := d.Reading
	if d.unit == r.Quantity.Unit() {
		return r, nil
	}
	var err error
	if r.Value, err = home.Convert(r.Value, d.unit, r.Quantity); err != nil {
		return r, err
	}
	r.SD, err = home.ConvertSD(r.SD, d.unit, r.Quantity)
	return r, err
}

// date sets when r was true and by which clock. What a wrong clock dated is dated by its
// arrival, at the distance to what else came with it that the clock gave. A time that is counted from the arrival
// is another at each delivery: such a reading is known by its number, as one without a time.
func (d draft) date(r *home.Reading, a Arrival) error {
	r.Time, r.Clock = d.device, home.ByDevice
	wrong := a.wrong(d.device, d.relative)
	switch {
	case d.device.IsZero():
		r.Time = a.Time
	case wrong != clockRight:
		r.Time = a.instead(d.device, wrong)
	case !d.relative:
		return nil
	}
	if a.Retained {
		return ErrUndated
	}
	r.Clock = home.ByArrival
	if wrong == clockRight {
		return nil
	}
	said := d.device
	if wrong == clockCounts {
		said = time.Unix(0, 0).Add(d.device.Sub(a.Time))
	}
	r.Note = addNote(r.Note, "device clock "+wrongText[wrong]+itSaid+said.UTC().Format(time.RFC3339))
	return nil
}

const itSaid = ": it said "

// DeviceSaid returns the time that a device gave for a reading that was dated by
// its arrival because the device's clock is wrong; false for all other readings.
func DeviceSaid(r home.Reading) (time.Time, bool) {
	i := strings.LastIndex(r.Note, itSaid)
	if i < 0 || r.Clock != home.ByArrival || !strings.Contains(r.Note[:i], "device clock ") {
		return time.Time{}, false
	}
	t, err := time.Parse(time.RFC3339, r.Note[i+len(itSaid):])
	return t, err == nil
}

// addNote appends to a note, leaving the note as it is where both would be too long.
func addNote(note, more string) string {
	if note != "" {
		more = note + "; " + more
	}
	if len(more) > home.MaxNote {
		return note
	}
	return more
}

// problems collects what could not be read of one payload.
type problems struct {
	first   []error // the first few
	count   int
	foreign int
}

const problemsTold = 20

func (p *problems) add(where string, err error) {
	if errors.Is(err, ErrForeign) {
		p.foreign++
	}
	if p.count++; len(p.first) < problemsTold {
		p.first = append(p.first, fmt.Errorf("%s: %w", where, err))
	}
}

// err is nil where there was no problem.
func (p *problems) err() error {
	if p.count == 0 {
		return nil
	}
	return p
}

func (p *problems) Error() string {
	text := errors.Join(p.first...).Error()
	if more := p.count - len(p.first); more > 0 {
		text += fmt.Sprintf("\nand %d more", more)
	}
	return text
}

// Is reports foreign only where nothing worse was met.
func (p *problems) Is(target error) bool {
	if target == ErrForeign {
		return p.foreign == p.count
	}
	for _, err := range p.first {
		if errors.Is(err, target) {
			return true
		}
	}
	return false
}

// key is what identifies a reading.
type key struct {
	source   string
	quantity home.Quantity
	time     time.Time
	seq      int64
}

// apart refuses a second reading with the identity of an earlier one in the same
// payload: the store would take it for a second copy and keep only the first.
type apart map[key]bool

func (seen apart) check(r home.Reading) error {
	k := key{r.Source, r.Quantity, r.Time, r.Seq}
	if seen[k] {
		return fmt.Errorf("a second %s of %q at the same time: give each its own time or sequence number", r.Quantity, r.Source)
	}
	seen[k] = true
	return nil
}
