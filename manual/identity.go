package manual

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"time"

	"weighbeam/home"
)

// newFormID names one showing of the form, so that sending it twice can be told
// from filling it in twice.
func newFormID() string { return rand.Text() }

const stampLayout = "20060102T150405Z"

// identify gives the check and its readings their names. They come from the
// form's id and all that was typed: the same form sent twice is one check, and
// the same form sent again with something changed is another, because dropping
// the change in silence would lose it.
func (f *form) identify(now time.Time) {
	sum := sha256.Sum256([]byte(f.typed.Encode())) // Encode sorts by field
	c := &f.check
	c.Time = c.Time.UTC().Truncate(home.TimeStep)
	c.ID = c.Time.Format(stampLayout) + "-" + hex.EncodeToString(sum[:8])
	// Two cats may be checked in the same minute: the sequence number keeps
	// their readings apart.
	seq := int64(binary.BigEndian.Uint64(sum[8:16])>>1) | 1
	for i := range c.Readings {
		c.Readings[i].Time, c.Readings[i].Seq, c.Readings[i].Arrived = c.Time, seq, now
		c.Readings[i] = c.Readings[i].Normal()
	}
}

// timeOf is the time in a check's id, from which a page finds it again.
func timeOf(id string) (time.Time, bool) {
	if len(id) < len(stampLayout) {
		return time.Time{}, false
	}
	t, err := time.Parse(stampLayout, id[:len(stampLayout)])
	return t, err == nil
}
