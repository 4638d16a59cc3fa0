package notify

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"weighbeam/home"
)

// runs is how many seeds the simulation tries: few in a normal test; with
// WEIGHBEAM_LONG so many that 10,000 kills fall.
func runs() int {
	if os.Getenv("WEIGHBEAM_LONG") != "" {
		return 5200
	}
	return 200
}

// world is one simulated house: an outbox, receivers with faults of their own,
// and lives of the program that end at random steps.
type world struct {
	rng    *rand.Rand
	store  *memory
	policy Policy
	ends   []*faulty
	life   *life
	raised int // findings so far
}

// faulty is a receiver that fails at random while troubled, and counts how
// often it took a message without the sender noting that it did.
type faulty struct {
	receiver
	w        *world
	mu       sync.Mutex
	rng      *rand.Rand
	troubled bool
	unheard  map[string]int  // by notice: copies taken without the sender noting it
	told     map[string]bool // by notice: the sender was told that it was taken
}

func (f *faulty) Send(ctx context.Context, m Message) error {
	// A kill may fall before the receiver takes it, or after that.
	if !f.w.life.step() {
		return errDead
	}
	if err := f.fault(ctx, m); err != nil {
		return err
	}
	_ = f.receiver.Send(ctx, m)
	if !f.w.life.step() {
		f.note(m)
		return errDead
	}
	if f.draw(8) == 0 {
		f.note(m)
		return Unreached("the answer was lost")
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, id := range m.Notices {
		f.told[id] = true
	}
	return nil
}

// bury counts, after the program died, the copies whose taking it was told of
// but did not live to note in the store.
func (f *faulty) bury(notices []home.Notice) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, n := range notices {
		if n.State == home.Waiting && f.told[n.ID] {
			f.unheard[n.ID]++
		}
	}
	clear(f.told)
}

func (f *faulty) fault(ctx context.Context, m Message) error {
	if !f.isTroubled() {
		return nil
	}
	switch f.draw(6) {
	case 0:
		return Unreached("down")
	case 1:
		return &Failure{Why: "busy", Retry: true, After: time.Duration(f.draw(600)) * time.Second}
	case 2:
		<-ctx.Done()
		return ctx.Err()
	case 3: // it hangs, but takes it
		_ = f.receiver.Send(ctx, m)
		f.note(m)
		<-ctx.Done()
		return ctx.Err()
	}
	return nil
}

func (f *faulty) draw(n int) int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.rng.IntN(n)
}

func (f *faulty) isTroubled() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.troubled
}

func (f *faulty) note(m Message) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, id := range m.Notices {
		f.unheard[id]++
	}
}

func newWorld(seed uint64) *world {
	w := &world{rng: rand.New(rand.NewPCG(seed, 0)), store: newMemory()}
	for i := range 1 + w.rng.IntN(3) {
		w.policy.Channels = append(w.policy.Channels, Channel{Name: fmt.Sprintf("c%d", i)})
		w.ends = append(w.ends, &faulty{w: w, rng: rand.New(rand.NewPCG(seed, uint64(i)+1)),
			troubled: w.rng.IntN(2) == 0, unheard: map[string]int{}, told: map[string]bool{}})
	}
	return w
}

// live runs the program for one life: it dies at a random step, or is stopped.
func (w *world) live(t *testing.T, steps int, span time.Duration) {
	w.life = newLife(steps)
	var routes []Route
	for i, c := range w.policy.Channels {
		routes = append(routes, Route{c, w.ends[i]})
	}
	s := start(t, mortal{w.store, w.life}, routes, Options{})
	for range w.rng.IntN(8) { // more than DefaultFold may be due at once
		if w.life.step() {
			raise(w.store, w.policy, fmt.Sprintf("cat-%d", w.raised), levels[w.rng.IntN(4)])
			w.raised++
			s.Wake()
		}
		time.Sleep(time.Duration(w.rng.IntN(3)) * time.Second)
	}
	w.wait(span)
	s.stop()
	for _, end := range w.ends {
		end.bury(w.store.all())
	}
}

// wait waits until the program died, nothing waits to be sent, or span is over.
func (w *world) wait(span time.Duration) {
	over := time.After(span)
	for w.store.waiting() {
		select {
		case <-w.life.died:
			return
		case <-over:
			return
		case <-time.After(10 * time.Second):
		}
	}
}

func (m *memory) waiting() bool {
	for _, n := range m.all() {
		if n.State == home.Waiting {
			return true
		}
	}
	return false
}

// check holds the promise: each notice arrived at least once, and no oftener
// than once more for each time that the sender could not note it.
func (w *world) check(t *testing.T, seed uint64) {
	for i, c := range w.policy.Channels {
		copies := w.ends[i].copies()
		for _, n := range w.store.all() {
			if n.Channel != c.Name {
				continue
			}
			got, unheard := copies[n.ID], w.ends[i].unheard[n.ID]
			if n.State != home.Sent || got < 1 || got > 1+unheard {
				t.Errorf("seed %d: %s is %s, arrived %d times, %d of them unheard: %s", seed, n.ID, n.State, got, unheard, n.Reason)
			}
		}
	}
}

// A random kill between any two steps, with receivers that fail in every way:
// every notice arrives at least once, and at most once more for each answer
// that a kill or a fault swallowed.
func TestSender_Run_RandomKills(t *testing.T) {
	kills, notices, twice, most := 0, 0, 0, 0
	for seed := range uint64(runs()) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(seed)
			for range 1 + w.rng.IntN(3) {
				w.live(t, w.rng.IntN(60), time.Duration(w.rng.IntN(3600))*time.Second)
				kills++
			}
			for _, end := range w.ends {
				end.mu.Lock()
				end.troubled = false
				end.mu.Unlock()
			}
			w.live(t, -1, 12*time.Hour)
			w.check(t, seed)
			notices += len(w.store.all())
			for _, end := range w.ends {
				for _, n := range end.copies() {
					twice += min(n-1, 1)
					most = max(most, n)
				}
			}
		})
		if t.Failed() {
			break
		}
	}
	t.Logf("%d kills, %d notices, %d of them arrived more than once, the most %d times", kills, notices, twice, most)
	if notices == 0 || twice == 0 {
		t.Error("the simulation met no case where a second copy was possible: it proves nothing")
	}
}

// One kill in the life of a notice and no answer lost: never more than two
// copies, at whatever step the kill falls.
func TestSender_Run_OneKill(t *testing.T) {
	twice := 0
	for seed := range uint64(runs()) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(seed)
			for _, end := range w.ends {
				end.troubled, end.rng = false, rand.New(never{})
			}
			w.live(t, int(seed%60), time.Minute)
			w.live(t, -1, 12*time.Hour)
			w.check(t, seed)
			for _, end := range w.ends {
				for id, n := range end.copies() {
					if twice += n - 1; n > 2 {
						t.Errorf("seed %d: %s arrived %d times", seed, id, n)
					}
				}
			}
		})
	}
	if twice == 0 {
		t.Error("no kill fell between taking and noting: it proves nothing")
	}
}

// never is a source whose draws are never the one that loses an answer.
type never struct{}

func (never) Uint64() uint64 { return 1 }
