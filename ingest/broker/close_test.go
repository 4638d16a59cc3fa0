package broker

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

// A library that waits for ever holds up the end for a moment only.
func TestWithin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hang := make(chan struct{})
		began := time.Now()
		if err := within(closing, func() error { <-hang; return nil }); err != nil || time.Since(began) != closing {
			t.Errorf("%v after %s", err, time.Since(began))
		}
		close(hang)
		gone := errors.New("gone")
		if err := within(closing, func() error { return gone }); err != gone {
			t.Errorf("got %v", err)
		}
	})
}
