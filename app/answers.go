package app

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/notify/answer"
)

// answers takes what people say to a finding, by a link or on its page.
type answers struct {
	app *App
	key answer.Key
}

// linkLife is how long a link in a notice works, from when the notice is due.
const linkLife = 90 * 24 * time.Hour

// errUsed is what a second answer by one link gets.
var errUsed = errors.New("the link was used already: answer on the page of the finding")

func newAnswers(a *App) (*answers, error) {
	s, err := keptSecret(filepath.Join(filepath.Dir(a.cfg.Data), "answers.key"))
	if err != nil {
		return nil, err
	}
	key, err := answer.NewKey(s)
	return &answers{app: a, key: key}, err
}

// keptSecret reads the secret at path, or makes one at the first start.
func keptSecret(path string) ([]byte, error) {
	const op = "read the key of the answers"
	text, err := wholeFile(path).Recall()
	if err != nil {
		return nil, &home.Error{Op: op, Hint: "The program must be able to read its own file.", Err: err}
	}
	if text != nil {
		s, err := hex.DecodeString(string(bytes.TrimSpace(text)))
		if err != nil {
			return nil, home.Hinted(op, "Delete the file: a new key is made. Links sent before stop working.", "%s does not hold a key", path)
		}
		return s, nil
	}
	s := answer.MakeSecret()
	if err := wholeFile(path).Remember([]byte(hex.EncodeToString(s) + "\n")); err != nil {
		return nil, &home.Error{Op: op, Hint: "Choose a folder you may write to, with the key data.", Err: err}
	}
	return s, nil
}

// link is the address by which a notice that is due at due can be answered.
func (s *answers) link(finding, channel string, due time.Time) string {
	t := answer.Ticket{Finding: finding, Channel: channel, Expires: due.Add(linkLife).Truncate(time.Second)}
	return strings.TrimSuffix(s.app.cfg.Link, "/") + "/answer/" + s.key.Token(t)
}

// Finding returns the finding that is answered.
func (s *answers) Finding(ctx context.Context, id string) (home.Finding, error) {
	return s.app.store.Finding(ctx, id)
}

// Open reads the token of a link. A link that was answered by is refused.
func (s *answers) Open(token string, now time.Time) (home.Reaction, error) {
	t, err := s.key.Open(token, now)
	if err != nil {
		return home.Reaction{}, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if _, used, err := s.given(ctx, t.Finding, t.ID()); err != nil || used {
		return home.Reaction{}, errors.Join(err, errUsed)
	}
	return home.Reaction{ID: t.ID(), Finding: t.Finding, By: t.Channel}, nil
}

// given is the reaction of that id, if there is one.
func (s *answers) given(ctx context.Context, finding, id string) (home.Reaction, bool, error) {
	all, err := s.app.store.Reactions(ctx, finding)
	i := slices.IndexFunc(all, func(r home.Reaction) bool { return r.ID == id })
	if i < 0 {
		return home.Reaction{}, false, err
	}
	return all[i], true, err
}

// React keeps an answer, and in one with it what a snooze makes of the reminders. Of two
// by one link that came at the same moment the second is refused, unless it says the same.
func (s *answers) React(ctx context.Context, r home.Reaction) error {
	reminders, err := s.snoozed(ctx, r)
	if err != nil {
		return err
	}
	if err := s.app.store.React(ctx, r, reminders); err != nil {
		return err
	}
	kept, _, err := s.given(ctx, r.Finding, r.ID)
	switch {
	case err != nil:
		return err
	case kept.Kind != r.Kind || kept.Note != r.Note:
		return &home.Error{Op: "answer", Hint: "Somebody answered by this link a moment ago: answer on the page of the finding.", Err: errUsed}
	}
	s.app.told().sender.Wake()
	return nil
}

// snoozed are the reminders as they stand after a snooze: the next one of each channel
// waits for its end, so that whoever asked to be reminded then is.
func (s *answers) snoozed(ctx context.Context, r home.Reaction) ([]home.Notice, error) {
	if r.Kind != home.Snoozed {
		return nil, nil
	}
	f, err := s.app.store.Finding(ctx, r.Finding)
	if err != nil || !f.Open() {
		return nil, err
	}
	notices, err := s.app.store.Notices(ctx, r.Finding)
	return s.app.policy().Snooze(f, notices, r), err
}
