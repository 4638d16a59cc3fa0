package push

import (
	"context"
	"slices"
	"sync"

	"weighbeam/home"
)

// Store keeps subscriptions.
type Store interface {
	Subscribe(ctx context.Context, s home.Subscription) error
	Unsubscribe(ctx context.Context, endpoint string) error
	Subscriptions(ctx context.Context) ([]home.Subscription, error)
}

// Book is the browsers that ask to be told, as the store has them.
type Book struct {
	store Store

	mu  sync.Mutex
	all []home.Subscription
}

// mostBrowsers is how many browsers are told at most, so that nobody can make the
// house speak to thousands.
const mostBrowsers = 50

// OpenBook reads the browsers that the store has.
func OpenBook(ctx context.Context, store Store) (*Book, error) {
	all, err := store.Subscriptions(ctx)
	return &Book{store: store, all: all}, err
}

// Of are the browsers of a channel.
func (b *Book) Of(channel string) []home.Subscription {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(b.all), func(s home.Subscription) bool { return s.Channel != channel })
}

// Add keeps a browser, in place of what was known under its endpoint. It is held
// while the store writes, so that the book and the store agree.
func (b *Book) Add(ctx context.Context, s home.Subscription) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	rest := without(b.all, s.Endpoint)
	if len(rest) >= mostBrowsers {
		return home.Hinted("keep a browser", "End it in a browser that is no longer used, then try again.", "%d browsers ask to be told already", len(rest))
	}
	if err := b.store.Subscribe(ctx, s); err != nil {
		return err
	}
	b.all = append(rest, s)
	return nil
}

// Remove forgets a browser; one that is not there is no error.
func (b *Book) Remove(ctx context.Context, endpoint string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.store.Unsubscribe(context.WithoutCancel(ctx), endpoint); err != nil {
		return err
	}
	b.all = without(b.all, endpoint)
	return nil
}

func without(all []home.Subscription, endpoint string) []home.Subscription {
	return slices.DeleteFunc(slices.Clone(all), func(s home.Subscription) bool { return s.Endpoint == endpoint })
}
