package mirror

import (
	"context"
	"errors"
	"net/http"
	"regexp"
	"strconv"

	enginehttp "github.com/influxdata/influxdb-client-go/v2/api/http"
	"github.com/influxdata/influxdb-client-go/v2/api/write"
)

// partial is how an engine says that it took the points of a request but for those
// that it never will, as what is older than its bucket keeps.
var partial = regexp.MustCompile(`partial write:.*?(?:dropped=(\d+))?$`)

// spoilt reports whether err is about what was sent: sent again as it is, it would be
// refused again, and the mirror would stand still for ever.
func spoilt(err error) bool {
	var e *enginehttp.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.StatusCode {
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity:
		return true
	}
	return false
}

// sort sends points of which the engine refused some with err, until only those are
// left out that it refuses alone: they are counted and told, and the mirror goes on.
func (m *Mirror) sort(ctx context.Context, points []*write.Point, err error) error {
	if said := partial.FindStringSubmatch(err.Error()); said != nil {
		dropped, _ := strconv.Atoi(said[1]) // where it is not said how many, it was one at least
		m.drop(min(max(dropped, 1), len(points)), len(points), err)
		return nil
	}
	if len(points) == 1 {
		m.drop(1, 1, err)
		return nil
	}
	for _, half := range [][]*write.Point{points[:len(points)/2], points[len(points)/2:]} {
		if err := m.send(ctx, half); err != nil {
			return err
		}
	}
	return nil
}

// drop counts and tells what the engine did not take.
func (m *Mirror) drop(n, of int, err error) {
	m.wrote(of - n)
	m.mu.Lock()
	m.counted.refused += int64(n)
	m.mu.Unlock()
	m.cfg.Log.Warn("the engine of the mirror refused points: the store keeps them, and the mirror goes on without", "points", n, "of", of, "err", err)
}
