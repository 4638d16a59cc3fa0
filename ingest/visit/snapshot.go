package visit

import (
	"encoding/json"
	"fmt"

	"weighbeam/home"
)

const snapshotVersion = 1

type snapshot struct {
	Version int
	Kind    home.Kind
	State   state
}

// Snapshot returns all that the tracker remembers, the open episode included, for
// [Tracker.Restore]. It is JSON and carries a version.
func (t *Tracker) Snapshot() ([]byte, error) {
	return json.Marshal(snapshot{snapshotVersion, t.kind, t.s})
}

// Restore goes on from a snapshot of a tracker of the same kind. After an error
// the tracker is as it was; starting without a snapshot costs it the baseline
// and what is usual, which it learns again.
func (t *Tracker) Restore(b []byte) error {
	const hint = "Start without the snapshot: the baseline is learned again within minutes."
	in := snapshot{State: state{Stay: newFrames()}}
	if err := json.Unmarshal(b, &in); err != nil {
		return &home.Error{Op: "restore scale", Hint: hint, Err: err}
	}
	switch {
	case in.Version != snapshotVersion:
		return home.Hinted("restore scale", hint, "snapshot has version %d, this program reads %d", in.Version, snapshotVersion)
	case in.Kind != t.kind:
		return home.Hinted("restore scale", hint, "snapshot is of a %s, the scale is a %s", in.Kind, t.kind)
	}
	if err := in.State.valid(); err != nil {
		return &home.Error{Op: "restore scale", Hint: hint, Err: err}
	}
	if cap(in.State.Stay.Of) < maxFrames { // keep Step free of allocation
		in.State.Stay.Of = append(make([]frame, 0, maxFrames), in.State.Stay.Of...)
	}
	t.s = in.State
	return nil
}

// valid reports what Step would trip over.
func (s *state) valid() error {
	switch {
	case s.Mode < seeking || s.Mode > settling:
		return fmt.Errorf("unknown mode %d", s.Mode)
	case len(s.Stay.Of) > maxFrames || !(s.Stay.Len > 0):
		return fmt.Errorf("%d frames of %g s", len(s.Stay.Of), s.Stay.Len)
	case s.Usual.N < 0 || s.Usual.N > usualMany || s.Usual.Next < 0 || s.Usual.Next >= usualMany:
		return fmt.Errorf("%d usual masses, the next is %d", s.Usual.N, s.Usual.Next)
	case !(s.Device.Noise > 0 && s.Device.Hold > 0) || s.Run.N < 0:
		return fmt.Errorf("noise of %g g, hold of %g s", s.Device.Noise, s.Device.Hold)
	}
	for _, f := range s.Stay.Of {
		if !(f.Hold > 0) || f.T1 < f.T0 {
			return fmt.Errorf("a frame of %g s", f.Hold)
		}
	}
	return nil
}
