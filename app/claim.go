package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
	"weighbeam/ingest/payload"
	"weighbeam/store"
)

// Claim gives a topic to a scale.
type Claim struct {
	Scale home.Scale // with the topic; of a scale that lives here only ID, Topic, Payload, Unit and Sends count
	Move  bool       // it may leave the topic that it has
}

const opClaim = "claim"

// claimed is h after c.
func (c Claim) claimed(h home.Household) (home.Household, error) {
	s := c.Scale
	if err := ingest.ValidFilter(s.Topic); err != nil {
		return h, &home.Error{Op: opClaim, Hint: "Give the topic as it is listed among what was set aside.", Err: err}
	}
	if posted(s.Topic) {
		return h, home.Hinted(opClaim, "What is posted names its source itself. Mend it where it is sent, or the sources of the device in the settings; then try again.",
			"%s is no topic", s.Topic)
	}
	for _, other := range h.Scales {
		if other.ID != s.ID && other.Topic != "" && ingest.Overlap(other.Topic, s.Topic) {
			return h, home.Hinted(opClaim, "Choose that scale, name a topic that is not its too, or change its topic in the household first.", "the topic %s is claimed by %q (%s)", s.Topic, other.ID, other.Topic)
		}
	}
	h.Scales = slices.Clone(h.Scales)
	i := slices.IndexFunc(h.Scales, func(o home.Scale) bool { return o.ID == s.ID })
	switch {
	case i < 0 && s.Kind == "":
		return h, home.Hinted(opClaim, "Say what it stands under: litter-box, feeder, water or floor.", "the scale %q is new", s.ID)
	case i < 0:
		h.Scales = append(h.Scales, s)
	case h.Scales[i].Topic != "" && h.Scales[i].Topic != s.Topic && !c.Move:
		return h, home.Hinted(opClaim, "Say that it moved (--move on the command line), or choose another name for a new scale.",
			"the scale %q listens to %s and would leave it", s.ID, h.Scales[i].Topic)
	default:
		o := &h.Scales[i]
		o.Topic, o.Payload, o.Unit, o.Sends = s.Topic, s.Payload, s.Unit, s.Sends
	}
	if err := h.Valid(); err != nil {
		return h, &home.Error{Op: opClaim, Hint: "Correct that part.", Err: err}
	}
	return h, nil
}

// posted reports whether a topic stands for what came over HTTP, which no scale claims.
func posted(topic string) bool { return strings.HasPrefix(topic, httpapi.Path) }

// Foretold is what a claim would make of the newest payload of its topic.
type Foretold struct {
	Scale    home.Scale
	Heard    bool // something waits on the topic
	Readings []home.Reading
}

// foretell refuses a claim under which the newest payload of the topic cannot be
// read. Where c does not say how to read it and there is one way only, that is taken.
func (c Claim) foretell(ctx context.Context, db *store.DB) (Foretold, error) {
	newest, ok, err := newestOn(ctx, db, c.Scale.Topic)
	if err != nil {
		return Foretold{}, err
	}
	out := Foretold{Scale: c.Scale, Heard: ok}
	if out.Scale.Payload == "" && ok {
		ways := payload.Suggest(newest.Payload)
		if len(ways) > 1 && ways[0] != "senml" {
			return out, home.Hinted(opClaim, "Say which with the payload: "+strings.Join(ways, ", ")+".", "the payload has %d numbers", len(ways))
		}
		if len(ways) > 0 {
			out.Scale.Payload = ways[0]
		}
	}
	if !ok {
		_, err := payload.ForScale(out.Scale)
		return out, err
	}
	if out.Readings, err = ingest.Foretell(newest, out.Scale); len(out.Readings) > 0 || bearable(err) {
		return out, nil
	}
	hint := home.Hint(err)
	if hint == "" {
		hint = "Nothing was changed. Say how to read it by payload, unit, and whether it sends load or weight."
	}
	return out, &home.Error{Op: opClaim, Hint: hint, Err: fmt.Errorf("the newest payload of %s cannot be read so: %w", c.Scale.Topic, err)}
}

// bearable reports whether a payload without a reading says nothing against the
// way in which it was read.
func bearable(err error) bool {
	return err == nil || errors.Is(err, payload.ErrForeign) || errors.Is(err, payload.ErrUndated)
}

// newestOn is the newest of what waits on a topic.
func newestOn(ctx context.Context, db *store.DB, topic string) (newest home.SetAside, ok bool, err error) {
	all, err := db.SetAsidesOn(ctx, topic)
	for _, s := range all {
		if ingest.CanRetry(s) && (!ok || s.Arrived.After(newest.Arrived)) {
			newest, ok = s, true
		}
	}
	return newest, ok, err
}

// edit is what c makes of a household; what waits on its topic is looked at first.
func (c Claim) edit(ctx context.Context, db *store.DB) edit {
	return func(now home.Household, text []byte) (home.Household, []byte, error) {
		told, err := c.foretell(ctx, db)
		if err != nil {
			return now, text, err
		}
		c.Scale = told.Scale
		want, err := c.claimed(now)
		if err != nil || text == nil || want.Mark() == now.Mark() {
			return want, text, err
		}
		text, err = c.inText(text, want)
		return want, text, err
	}
}

// Claim gives a topic to a scale, from the next message on, and tries again what
// was set aside on it.
func (a *App) Claim(ctx context.Context, s home.Scale, move bool) (home.Retry, error) {
	if err := a.changer.change(ctx, Claim{s, move}.edit(ctx, a.store)); err != nil {
		return home.Retry{}, err
	}
	return a.Retry(ctx, s.Topic)
}

// Retry tries again what was set aside on topics that match filter.
func (a *App) Retry(ctx context.Context, filter string) (home.Retry, error) {
	return a.appender.Retry(ctx, a.store, filter)
}

// ClaimStopped is Claim on the store of a program that does not run.
func ClaimStopped(ctx context.Context, db *store.DB, cfg Config, c Claim) (home.Retry, error) {
	changer := &changer{db: db, file: cfg.Household}
	if err := changer.change(ctx, c.edit(ctx, db)); err != nil {
		return home.Retry{}, err
	}
	return RetryStopped(ctx, db, cfg, c.Scale.Topic)
}

// RetryStopped is Retry on the store of a program that does not run, with the household
// as its file says where there is one. What a device sent over HTTP is tried only where
// cfg names the device.
func RetryStopped(ctx context.Context, db *store.DB, cfg Config, filter string) (home.Retry, error) {
	if err := (&changer{db: db, file: cfg.Household}).adopt(ctx); err != nil {
		return home.Retry{}, err
	}
	h, err := db.Household(ctx)
	if err != nil {
		return home.Retry{}, err
	}
	router, err := ingest.NewRouter(h)
	if err != nil {
		return home.Retry{}, err
	}
	appender := ingest.NewAppender(db, cfg.decoder(router), ingest.Options{})
	running, stop := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = appender.Run(running) // it returns nil by contract
	}()
	defer func() {
		stop()
		<-done
	}()
	return appender.Retry(ctx, db, filter)
}
