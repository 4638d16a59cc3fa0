package app

import (
	"context"
	"time"

	"weighbeam/dashboards"
	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/notify"
)

// startNotify starts the sender and then the stages that make work for it.
func (a *App) startNotify(ctx context.Context) (err error) {
	if err := a.openBook(ctx); err != nil {
		return err
	}
	if a.answers, err = newAnswers(a); err != nil {
		return err
	}
	tell, err := a.teller(ctx, a.told().cfg)
	if err != nil {
		return err
	}
	a.telling.Store(tell())
	a.onStop(a.silence)
	a.follow("watch", a.watcher)
	a.follow("weigh", a.weigher)
	a.spawn((&digester{app: a}).run)
	a.spawn((&channelWatch{app: a}).run)
	a.spawn((&deafWatch{app: a}).run)
	return a.startHeartbeat()
}

// chart draws what a notice is about.
func (a *App) chart() func(ctx context.Context, finding string) (notify.Chart, error) {
	draw := dashboards.Evidence(seenStore{a.store, a.watcher}, a.watcher, a.look())
	return func(ctx context.Context, finding string) (c notify.Chart, err error) {
		c.PNG, c.Words, err = draw(ctx, finding)
		return c, err
	}
}

// idle is how often the sender looks for what is due without being woken: a
// clock of its own may run faster than the machine's, or be set.
func (a *App) idle() time.Duration {
	if a.ownClock {
		return a.opt.Round
	}
	return notify.DefaultIdle
}

// policy is who hears what, with the household as it is now.
func (a *App) policy() notify.Policy {
	cfg := a.now()
	p := notify.Policy{
		House:     *a.house.Load(),
		Channels:  a.present(cfg.rules()),
		Reminders: notify.UsualReminders(),
		Words:     notify.Words{Base: cfg.Link, Pounds: cfg.Units.text == "lb", Zone: cfg.Zone.location()},
	}
	if a.cfg.Link != "" {
		p.Reply = a.answers.link
	}
	return p
}

// sink is where readings go. What the program itself published as a notice comes
// back from a broker, and is no reading.
func (a *App) sink() *sieve { return &sieve{a.appender, a} }

type sieve struct {
	*ingest.Appender
	app *App
}

// Deliver passes everything on but our own notices, which are settled at once.
func (s *sieve) Deliver(ctx context.Context, d ingest.Delivery) error {
	if s.settles(d) {
		return nil
	}
	return s.Appender.Deliver(ctx, d)
}

// Offer is Deliver for who cannot wait.
func (s *sieve) Offer(d ingest.Delivery) bool { return s.settles(d) || s.Appender.Offer(d) }

// settles lets go of what comes from a topic of ours, and counts it. Where a scale has
// that topic, too, it is the scale's: a notice that is taken for a reading is set aside,
// a reading that is taken for a notice would be lost.
func (s *sieve) settles(d ingest.Delivery) bool {
	if _, ours := s.app.told().own[d.Topic]; !ours || len(s.app.router.Claimants(d.Topic)) > 0 {
		return false
	}
	s.app.echoes.Add(1)
	if d.Settle != nil {
		d.Settle(nil)
	}
	return true
}

// owed is what a turn owes at now.
func (a *App) owed(t home.Transition, now time.Time) []home.Notice { return a.policy().Owed(t, now) }
