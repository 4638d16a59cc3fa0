package app

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"weighbeam/app/door"
	"weighbeam/home"
	"weighbeam/ingest/mqtt"
	"weighbeam/notify"
)

// How long, in real time, a stage may be silent or behind before that is told.
const (
	silentAfter = time.Minute
	unsettled   = 30 * time.Second
	behindAfter = 15 * time.Minute
)

// Stage is how well one part of the program is.
type Stage struct {
	Name    string    `json:"stage"`
	Well    bool      `json:"well"`
	Problem string    `json:"problem,omitempty"` // a full sentence
	Last    time.Time `json:"last,omitzero"`     // when it last did something
	Behind  int64     `json:"behind,omitempty"`  // journal entries, or deliveries, that wait
}

// Stages returns how well each part is, in the order of a reading's way.
func (a *App) Stages(ctx context.Context) []Stage {
	end, err := a.store.JournalEnd(ctx)
	stages := []Stage{storeStage(err, a.store.Damage()), a.ingestStage()}
	if session := a.session.Load(); session != nil {
		stages = append(stages, brokerStage(session.Health()))
	}
	for _, f := range a.stages {
		stages = append(stages, a.followStage(ctx, f, end))
	}
	stages = append(stages, a.notifyStage())
	for i := range stages {
		stages[i].Well = stages[i].Problem == ""
	}
	return stages
}

// Lives reports whether the store answers: a program of which that is not true can
// do nothing but start again.
func (a *App) Lives(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	_, err := a.store.JournalEnd(ctx)
	return err == nil
}

func storeStage(err, damage error) Stage {
	s := Stage{Name: "store"}
	switch {
	case damage != nil:
		s.Problem = fmt.Sprintf("Nothing more is written: %v. %s", damage, home.Hint(damage))
	case err != nil:
		s.Problem = fmt.Sprintf("The store cannot be read: %v.", err)
	}
	return s
}

func (a *App) ingestStage() Stage {
	h := a.appender.Health()
	s := Stage{Name: "ingest", Last: h.LastCommit, Behind: int64(h.Queue)}
	switch {
	case h.Failing != "":
		s.Problem = fmt.Sprintf("The store has refused readings since %s: %s. Nothing is acknowledged until it takes them.",
			h.Since.Format(time.TimeOnly), h.Failing)
	case h.Oldest > unsettled:
		s.Problem = fmt.Sprintf("A delivery has waited %s to be stored.", h.Oldest.Round(time.Second))
	}
	return s
}

func brokerStage(h mqtt.Health) Stage {
	s := Stage{Name: "broker", Last: h.LastMessage, Behind: int64(h.InFlight)}
	if len(h.Refused) > 0 {
		s.Problem = fmt.Sprintf("The broker does not let the program listen to %s: a scale there is not heard.", strings.Join(h.Refused, ", "))
	}
	if !h.Connected {
		s.Problem = fmt.Sprintf("There is no connection to the broker: %s. Readings wait there or on their devices.", h.Error)
	}
	return s
}

// followStage is a stage that follows the journal.
func (a *App) followStage(ctx context.Context, f *follower, end int64) Stage {
	last, behind, failed := f.Health()
	s := Stage{Name: f.name, Last: last}
	if at, err := f.position(ctx); err == nil {
		s.Behind = max(0, end-at)
	}
	switch {
	case failed != nil:
		s.Problem = fmt.Sprintf("It failed and tries again: %v.", failed)
	case !last.IsZero() && time.Since(last) > silentAfter:
		s.Problem = fmt.Sprintf("It has not finished a round for %s.", time.Since(last).Round(time.Second))
	case behind > behindAfter:
		s.Problem = fmt.Sprintf("It has been behind for %s: %d entries of the journal wait. Let devices send less often, or give the program a faster machine.",
			behind.Round(time.Minute), s.Behind)
	}
	return s
}

func (a *App) notifyStage() Stage { return notifyStage(a.told().sender.Health(), time.Now()) }

func notifyStage(h notify.Health, now time.Time) Stage {
	s := Stage{Name: "notify"}
	for _, c := range h.Channels {
		s.Behind += int64(c.Waiting)
		if c.Took.After(s.Last) {
			s.Last = c.Took
		}
	}
	problems := h.Problems()
	if idle := now.Sub(h.Looked); idle > notify.DefaultIdle+silentAfter {
		problems = []string{fmt.Sprintf("It has not looked for what is due for %s.", idle.Round(time.Second))}
	}
	if len(problems) > 0 {
		s.Problem = problems[0]
	}
	return s
}

// serveHealth answers 200 where every stage is well and 503 otherwise. Those who
// did not sign in learn no more than that.
func (a *App) serveHealth(w http.ResponseWriter, r *http.Request) {
	stages := a.Stages(r.Context())
	status := http.StatusOK
	for _, s := range stages {
		if !s.Well {
			status = http.StatusServiceUnavailable
		}
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	answer := map[string]any{"well": status == http.StatusOK}
	if _, known := door.Who(r.Context()); known {
		answer["stages"] = stages
	}
	if err := enc.Encode(answer); err != nil {
		a.opt.Log.Debug("answering /healthz", "err", err)
	}
}
