package notify

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"time"

	"weighbeam/home"

	"github.com/cenkalti/backoff/v5"
)

var errDead = errors.New("the process is dead")

// life is one life of the program. After the step at which it dies nothing it
// does has any effect, as with kill -9.
type life struct {
	mu   sync.Mutex
	left int // steps to live; negative: immortal
	dead bool
	died chan struct{}
}

func newLife(steps int) *life { return &life{left: steps, died: make(chan struct{})} }

// step reports whether the process lives to take one more step.
func (l *life) step() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.left == 0 && !l.dead {
		l.dead = true
		close(l.died)
	}
	if l.dead {
		return false
	}
	l.left--
	return true
}

// memory is an outbox as the sender needs it. Every call is one step of the
// life it is used from.
type memory struct {
	mu       sync.Mutex
	notices  map[string]home.Notice
	findings map[string]home.Finding
	said     []home.Reaction
	fail     error // every call fails with it, while set
}

func newMemory() *memory {
	return &memory{notices: map[string]home.Notice{}, findings: map[string]home.Finding{}}
}

// decide commits a turn and what it owes, as the watch over the cats does.
func (m *memory) decide(t home.Transition, owed []home.Notice) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.findings[t.Finding.ID()] = t.Finding
	for _, n := range owed {
		if _, ok := m.notices[n.ID]; !ok {
			m.notices[n.ID] = n
		}
	}
}

func (m *memory) all() []home.Notice {
	m.mu.Lock()
	defer m.mu.Unlock()
	var all []home.Notice
	for _, n := range m.notices {
		all = append(all, n)
	}
	slices.SortFunc(all, func(a, b home.Notice) int { return cmp.Or(a.Created.Compare(b.Created), cmp.Compare(a.ID, b.ID)) })
	return all
}

// only returns the notice of that turn, of which there must be one.
func (m *memory) only(t *testing.T, turn home.Turn) home.Notice {
	t.Helper()
	var found []home.Notice
	for _, n := range m.all() {
		if n.Turn == turn {
			found = append(found, n)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d notices of turn %s", len(found), turn)
	}
	return found[0]
}

// say commits what a person says now, whatever the finding.
func (m *memory) say(kind home.ReactionKind) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.said = append(m.said, home.Reaction{Kind: kind, At: time.Now()})
}

func (m *memory) reactions(context.Context, string) ([]home.Reaction, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.said), nil
}

func (m *memory) setFail(err error) {
	m.mu.Lock()
	m.fail = err
	m.mu.Unlock()
}

// mortal is the memory as one life of the program sees it.
type mortal struct {
	*memory
	life *life
}

func (m mortal) begin() error {
	if !m.life.step() {
		return errDead
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.fail
}

func (m mortal) DueNotices(_ context.Context, now time.Time, limit int) ([]home.Notice, error) {
	if err := m.begin(); err != nil {
		return nil, err
	}
	var due []home.Notice
	for _, n := range m.all() {
		if n.State == home.Waiting && !n.Due.IsZero() && !n.Due.After(now) { // as in the store: what has no date is never due
			due = append(due, n)
		}
	}
	slices.SortStableFunc(due, func(a, b home.Notice) int { return a.Due.Compare(b.Due) })
	return due[:min(limit, len(due))], nil
}

func (m mortal) NextDue(context.Context) (next time.Time, ok bool, err error) {
	if err := m.begin(); err != nil {
		return next, false, err
	}
	for _, n := range m.all() {
		if n.State == home.Waiting && !n.Due.IsZero() && (!ok || n.Due.Before(next)) {
			next, ok = n.Due, true
		}
	}
	return next, ok, nil
}

func (m mortal) SettleNotice(_ context.Context, n home.Notice) error {
	if err := m.begin(); err != nil {
		return err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	was, ok := m.notices[n.ID]
	if !ok {
		return fmt.Errorf("notice %q: %w", n.ID, home.ErrNotFound)
	}
	was.State, was.Reason, was.Attempts, was.Due, was.Sent, was.Decided = n.State, n.Reason, n.Attempts, n.Due, n.Sent, n.Decided
	m.notices[n.ID] = was
	return nil
}

func (m mortal) Finding(_ context.Context, id string) (home.Finding, error) {
	if err := m.begin(); err != nil {
		return home.Finding{}, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	f, ok := m.findings[id]
	if !ok {
		return f, fmt.Errorf("finding %q: %w", id, home.ErrNotFound)
	}
	return f, nil
}

func (m mortal) Notices(_ context.Context, finding string) ([]home.Notice, error) {
	if err := m.begin(); err != nil {
		return nil, err
	}
	all := m.all()
	return slices.DeleteFunc(all, func(n home.Notice) bool { return finding != "" && n.Finding != finding }), nil
}

// receiver is what stands at the end of a channel and counts what arrives.
type receiver struct {
	mu     sync.Mutex
	got    []Message
	at     []time.Time
	tries  int
	behave func(ctx context.Context, try int, m Message) (takes bool, err error) // nil: takes everything
}

func (r *receiver) Send(ctx context.Context, m Message) error {
	r.mu.Lock()
	r.tries++
	try, behave := r.tries, r.behave
	r.mu.Unlock()
	takes, err := true, error(nil)
	if behave != nil {
		takes, err = behave(ctx, try, m)
	}
	if takes {
		r.mu.Lock()
		r.got, r.at = append(r.got, m), append(r.at, time.Now())
		r.mu.Unlock()
	}
	return err
}

func (r *receiver) messages() []Message {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.got)
}

// copies is how often each notice arrived.
func (r *receiver) copies() map[string]int {
	n := map[string]int{}
	for _, m := range r.messages() {
		for _, id := range m.Notices {
			n[id]++
		}
	}
	return n
}

// flat are the usual pauses without jitter, so that a test can say when.
func flat() backoff.BackOff {
	b := usualPauses().(*backoff.ExponentialBackOff)
	b.RandomizationFactor = 0
	return b
}

func quietLog() *slog.Logger { return slog.New(slog.DiscardHandler) }

// running is a sender that runs until stop is called.
type running struct {
	*Sender
	stop func()
}

func start(t testing.TB, store Store, routes []Route, opts Options) running {
	t.Helper()
	if opts.Log == nil {
		opts.Log = quietLog()
	}
	if opts.Pauses == nil {
		opts.Pauses = flat
	}
	s := New(store, routes, opts)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); s.Run(ctx) }()
	stop := sync.OnceFunc(func() { cancel(); <-done })
	return running{s, stop}
}

func immortal(m *memory) mortal { return mortal{m, newLife(-1)} }
