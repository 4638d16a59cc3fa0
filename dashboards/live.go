package dashboards

import (
	"fmt"
	"net/http"
	"time"

	"weighbeam/home"
)

// liveEvery is how often a page is told what a scale says.
const liveEvery = time.Second

// live sends what a scale says, in words, as server-sent events, until the reader
// leaves or the program stops.
func (p *pages) live(w http.ResponseWriter, r *http.Request) {
	if !p.joins(w) {
		return
	}
	defer p.following.Add(-1)
	live, err := p.opts.Bench.Live(r.Context(), r.PathValue("id"))
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	beginEvents(w)
	var closed <-chan struct{}
	if p.opts.Hearing != nil {
		closed = p.opts.Hearing.Closed()
	}
	flush, tick := http.NewResponseController(w), time.NewTicker(liveEvery)
	defer tick.Stop()
	for ; err == nil; live, err = p.opts.Bench.Live(r.Context(), r.PathValue("id")) {
		if _, err := fmt.Fprintf(w, "data: %s\n\n", liveWords(live)); err != nil || flush.Flush() != nil {
			return
		}
		select {
		case <-tick.C:
		case <-closed:
			return
		case <-r.Context().Done():
			return
		}
	}
}

// liveWords is what a scale says, on one line.
func liveWords(l home.LiveLoad) string {
	switch {
	case l.At.IsZero():
		return "nothing. " + l.Moving
	case l.Moving != "":
		return number(l.Kg, 4) + " kg. " + l.Moving
	}
	return number(l.Kg, 4) + " kg, at rest"
}
