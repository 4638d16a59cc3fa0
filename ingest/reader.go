package ingest

import (
	"errors"
	"fmt"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// readersOf are the tag readers of a household that have a topic of their own.
func readersOf(h home.Household) (readers []claim, err error) {
	for _, s := range h.Scales {
		if s.TagTopic == "" {
			continue
		}
		if err := ValidFilter(s.TagTopic); err != nil {
			return nil, fmt.Errorf("reader of scale %q: %w", s.ID, err)
		}
		d, err := payload.ForReader(s)
		if err != nil {
			return nil, err
		}
		readers = append(readers, claim{s, d})
	}
	return readers, nil
}

func (r *Router) readers(topic string) (found []claim) {
	for _, c := range r.now.Load().readers {
		if Match(c.scale.TagTopic, topic) {
			found = append(found, c)
		}
	}
	return found
}

// tagged reads a payload from the topic of a tag reader. Where a scale speaks there,
// too, a payload may be of either.
func tagged(scales, readers []claim, d Delivery, a payload.Arrival) (readings []home.Reading, err error) {
	if len(scales) > 1 || len(readers) > 1 {
		return nil, fmt.Errorf("more than one scale (%s) or reader (%s) claims this topic", names(scales), names(readers))
	}
	var errs []error
	for _, c := range append(scales, readers...) {
		got, err := c.decode(d.Payload, a)
		readings, errs = append(readings, got...), append(errs, err)
	}
	if len(readings) > 0 && len(errs) > 1 {
		return readings, nil
	}
	return readings, errors.Join(errs...)
}
