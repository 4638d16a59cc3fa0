package dashboards

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"
	"time"

	"weighbeam/home"
)

// Hearing is what arrives, for somebody who is wiring a scale up.
type Hearing interface {
	// After returns messages with an ID above after whose topic matches filter, oldest
	// first, the newest limit of them, and the ID of the last that was heard; changed is
	// closed by the next.
	After(after int64, filter string, limit int) (list []home.Heard, last int64, changed <-chan struct{})
	Speakers(filter string) (list []home.Speaker, all int)
	// Closed is closed when the program stops.
	Closed() <-chan struct{}
}

// scriptPolicy lets the script of a page run, and ask this host.
const scriptPolicy = Policy + "; script-src 'self'; connect-src 'self'"

const (
	heardShown   = 50                     // messages on a page
	followers    = 20                     // pages that may follow at a time
	followEvery  = 250 * time.Millisecond // so much a page can follow, and so much a flood costs
	followBreath = 15 * time.Second       // between signs of life
)

type listenView struct {
	Filter, Wrong string
	Last          int64
	Heard         []heardRow // newest first
	Speakers      []speakerRow
	More          int // topics that are not listed
}

type heardRow struct {
	home.Heard
	Payload, Gap string
	Unclaimed    bool
	Read         []string
}

type speakerRow struct {
	home.Speaker
	Rate, Gap, Ago string
}

// listen is the page of what arrives: the newest messages, and each topic with its
// rate and gaps. Without script it shows what was heard up to now.
func (p *pages) listen(w http.ResponseWriter, r *http.Request) {
	guard(w.Header(), scriptPolicy)
	v := listenView{Filter: strings.TrimSpace(r.URL.Query().Get("topic"))}
	filter, err := p.filter(v.Filter)
	if err != nil {
		v.Wrong, filter = sentence(err), "#"
	}
	list, last, _ := p.opts.Hearing.After(0, filter, heardShown)
	v.Last = last
	for i := len(list) - 1; i >= 0; i-- {
		v.Heard = append(v.Heard, p.heardRow(list[i]))
	}
	speakers, all := p.opts.Hearing.Speakers(filter)
	v.More = all - len(speakers)
	for _, s := range speakers {
		v.Speakers = append(v.Speakers, speakerRow{s, rate(s.PerSecond), gap(s.Longest), ago(p.opts.Now(), s.Last)})
	}
	status := http.StatusOK
	if err != nil {
		status = http.StatusUnprocessableEntity
	}
	p.write(w, r, status, view{"listen.html", "Listen", v})
}

func (p *pages) filter(text string) (string, error) {
	if text == "" {
		return "#", nil
	}
	return text, p.opts.ValidFilter(text)
}

func (p *pages) heardRow(m home.Heard) heardRow {
	row := heardRow{Heard: m, Payload: excerptOf(m.Payload, m.Bytes), Gap: gap(m.Gap)}
	row.Unclaimed = len(m.Readings) == 0 && p.opts.Claimer != nil && !p.opts.Claimer.Claimed(m.Topic)
	for _, one := range m.Readings {
		row.Read = append(row.Read, fmt.Sprintf("%s %s %.6g %s, %s (%s)", one.Source, one.Quantity, one.Value, one.Quantity.Unit(),
			p.say.second(one.Time), clockWords(one.Clock)))
	}
	if m.More > 0 {
		row.Read = append(row.Read, fmt.Sprintf("and %s more", plural(m.More, "reading")))
	}
	return row
}

// rate says how often something comes.
func rate(perSecond float64) string {
	switch {
	case perSecond <= 0:
		return "not known yet"
	case perSecond >= 1:
		return number(perSecond, 1) + " a second"
	}
	return "every " + gap(time.Duration(float64(time.Second)/perSecond))
}

// gap is a span, in a unit that fits.
func gap(d time.Duration) string {
	switch {
	case d <= 0:
		return ""
	case d < time.Minute:
		return number(d.Seconds(), 1) + " s"
	case d < 2*time.Hour:
		return plural(int(d.Minutes()), "minute")
	case d < 48*time.Hour:
		return plural(int(d.Hours()), "hour")
	}
	return plural(int(d.Hours()/24), "day")
}

// joins counts one more page that follows, or says that there are too many.
func (p *pages) joins(w http.ResponseWriter) bool {
	if p.following.Add(1) <= followers {
		return true
	}
	p.following.Add(-1)
	w.Header().Set("Retry-After", "10")
	http.Error(w, "Too many pages follow already.", http.StatusServiceUnavailable)
	return false
}

// beginEvents says that server-sent events follow.
func beginEvents(w http.ResponseWriter) {
	guard(w.Header(), Policy)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Accel-Buffering", "no") // what buffers in between would hold them back
}

// follow sends messages as they come, as server-sent events that each hold an item
// of the list. Where more come than a page can show, the newest are sent.
func (p *pages) follow(w http.ResponseWriter, r *http.Request) {
	filter, err := p.filter(strings.TrimSpace(r.URL.Query().Get("topic")))
	if err != nil {
		http.Error(w, sentence(err), http.StatusUnprocessableEntity)
		return
	}
	if !p.joins(w) {
		return
	}
	defer p.following.Add(-1)
	after := int64(-1)
	for _, text := range []string{r.Header.Get("Last-Event-ID"), r.URL.Query().Get("after")} {
		if _, err := fmt.Sscan(text, &after); err == nil {
			break
		}
	}
	if after < 0 {
		_, after, _ = p.opts.Hearing.After(0, "#", 0)
	}
	beginEvents(w)
	p.stream(w, r, filter, after)
}

func (p *pages) stream(w http.ResponseWriter, r *http.Request, filter string, after int64) {
	flush := http.NewResponseController(w)
	pace, breath := time.NewTicker(followEvery), time.NewTicker(followBreath)
	defer pace.Stop()
	defer breath.Stop()
	for {
		list, last, changed := p.opts.Hearing.After(after, filter, heardShown)
		if last < after { // the program was started anew: its count began again
			after = 0
			continue
		}
		after = last
		if err := p.events(w, list, last); err != nil || flush.Flush() != nil {
			return
		}
		select {
		case <-changed:
		case <-breath.C:
		case <-p.opts.Hearing.Closed():
			return
		case <-r.Context().Done():
			return
		}
		select { // everything that comes within a pace goes together
		case <-pace.C:
		case <-r.Context().Done():
			return
		}
	}
}

// events writes messages, or a sign of life.
func (p *pages) events(w http.ResponseWriter, list []home.Heard, last int64) error {
	var out bytes.Buffer
	if len(list) == 0 {
		fmt.Fprintf(&out, ": %d\n\n", last)
	}
	for _, m := range list {
		var item bytes.Buffer
		if err := p.tmpl.ExecuteTemplate(&item, "heard.html", p.heardRow(m)); err != nil {
			return err
		}
		fmt.Fprintf(&out, "id: %d\nevent: heard\n", m.ID)
		for _, line := range strings.FieldsFunc(item.String(), func(r rune) bool { return r == '\n' || r == '\r' }) {
			fmt.Fprintf(&out, "data: %s\n", line)
		}
		out.WriteByte('\n')
	}
	_, err := w.Write(out.Bytes())
	return err
}
