package notify

import (
	"context"
	"slices"
	"sync"
	"time"

	"weighbeam/home"
)

// Alarm hands m to every channel at once and past the store, which cannot be written to:
// it is neither kept nor tried again. It returns the channels that took it, by name.
func (s *Sender) Alarm(ctx context.Context, m Message) []string {
	var tries sync.WaitGroup
	var mu sync.Mutex
	var took []string
	for name, l := range s.lanes {
		tries.Go(func() {
			if err := l.try(ctx, m); err != nil {
				s.opts.Log.Error("a channel did not take an alarm", "channel", name, "err", failure(err))
				return
			}
			mu.Lock()
			defer mu.Unlock()
			took = append(took, name)
		})
	}
	tries.Wait()
	slices.Sort(took)
	return took
}

// Deaf is the message that the program takes no readings since a time, and why.
func Deaf(why string, since time.Time) Message {
	id := "deaf/" + since.UTC().Format(time.RFC3339)
	return Message{ID: id, Notices: []string{id}, Urgency: home.Today, Created: since.UTC(),
		Subject: "Weighbeam takes no readings. See to it today.",
		Body:    why + "\n\nUntil it is mended nothing is found, and nobody is told of anything. On the machine, 'weighbeam verify' says what is wrong.\n\n" + home.Caution + "\n"}
}
