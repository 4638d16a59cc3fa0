package store

import (
	"errors"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

func browser(endpoint, channel string) home.Subscription {
	return home.Subscription{Endpoint: endpoint, Channel: channel, Added: t0,
		Key: "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4", Auth: "BTBZMqHH6r4Tts7J_aSIgg"}
}

// A browser is there once, under the name it said last, until it is forgotten.
func TestDB_Subscribe_OnceAnEndpoint(t *testing.T) {
	db := fresh(t)
	one, two := browser("https://push.example.org/1", "ada"), browser("https://push.example.org/2", "ada")
	two.Added = t0.Add(time.Minute)
	moved := one
	moved.Channel = "bob"
	for _, s := range []home.Subscription{one, two, moved} {
		if err := db.Subscribe(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Subscriptions(t.Context()); err != nil || !slices.Equal(got, []home.Subscription{moved, two}) {
		t.Errorf("%+v, %v", got, err)
	}
	for range 2 {
		if err := db.Unsubscribe(t.Context(), one.Endpoint); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Subscriptions(t.Context()); err != nil || !slices.Equal(got, []home.Subscription{two}) {
		t.Errorf("after forgetting: %+v, %v", got, err)
	}
	if err := db.Subscribe(t.Context(), home.Subscription{Endpoint: "http://x"}); err == nil {
		t.Error("what is not valid was stored")
	}
}

// The keys are made once: another pair would make every browser deaf. A failed
// making leaves nothing behind.
func TestDB_MakePushKeys_MadeOnce(t *testing.T) {
	db, made := fresh(t), 0
	pair := func() (string, string, error) {
		made++
		if made == 1 {
			return "", "", errors.New("no randomness")
		}
		return "private", "public", nil
	}
	if _, _, err := db.MakePushKeys(t.Context(), pair); err == nil {
		t.Error("a failure was not told")
	}
	if _, _, err := db.PushKeys(t.Context()); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("before they are made: %v", err)
	}
	for range 3 {
		private, public, err := db.MakePushKeys(t.Context(), pair)
		if private != "private" || public != "public" || err != nil {
			t.Errorf("%q, %q, %v", private, public, err)
		}
	}
	if private, public, err := db.PushKeys(t.Context()); private != "private" || public != "public" || err != nil {
		t.Errorf("read: %q, %q, %v", private, public, err)
	}
	if made != 2 {
		t.Errorf("made %d times", made)
	}
}
