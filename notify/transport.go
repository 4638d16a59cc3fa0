package notify

import (
	"context"
	"errors"
	"fmt"
	"time"

	"weighbeam/home"
)

// Message is what a transport hands over. Most carry one notice; where many are
// due at once, one message carries them all.
// As JSON it is what a program that takes notices gets.
type Message struct {
	ID      string       `json:"id"`                // stable: the same message sent again has the same id
	Notices []string     `json:"notices"`           // ids of the notices in it, so that a receiver can drop each second copy
	Finding string       `json:"finding,omitempty"` // id of the finding, where it is about one
	Urgency home.Urgency `json:"urgency"`           // the highest of its notices
	Subject string       `json:"subject"`
	Body    string       `json:"body"`
	Created time.Time    `json:"created"` // the oldest of its notices
	Chart   Chart        `json:"-"`       // for transports that can carry a picture
}

// Chart is the picture of what a message is about; the zero Chart is none. The
// message is complete without it.
type Chart struct {
	PNG   []byte
	Words string // what it shows, for who does not see it
}

// Trial is a message that asks for nothing, to try a channel with.
func Trial(channel string, now time.Time) Message {
	id := "trial/" + channel + "/" + now.UTC().Format(time.RFC3339)
	return Message{ID: id, Notices: []string{id}, Urgency: home.Mention, Created: now.UTC(),
		Subject: "Weighbeam: this channel works",
		Body:    "This message was asked for to see whether the channel " + channel + " works. Nothing is to be done.\n"}
}

// Transport hands a message to one receiver. It returns nil only after the
// receiver took it, keeps to the deadline of ctx, and puts no secret into an
// error. An error that is no [Failure] counts as one that may pass.
type Transport interface {
	Send(ctx context.Context, m Message) error
}

// Failure is why a receiver did not take a message. The transport itself says
// whether trying again can help.
type Failure struct {
	Why   string        // a sentence without secrets, fit to be shown
	Retry bool          // trying again can help
	After time.Duration // the receiver asked for so long a pause; 0: it did not say
}

func (f *Failure) Error() string { return f.Why }

// Refused is a failure that no second try can mend.
func Refused(format string, args ...any) error {
	return &Failure{Why: fmt.Sprintf(format, args...)}
}

// Unreached is a failure that may pass.
func Unreached(format string, args ...any) error {
	return &Failure{Why: fmt.Sprintf(format, args...), Retry: true}
}

// failure is err as a Failure. Only the text of a Failure is fit to be shown:
// any other error may quote an address with a password in it.
func failure(err error) *Failure {
	var f *Failure
	switch {
	case errors.As(err, &f):
		return f
	case errors.Is(err, context.DeadlineExceeded):
		return &Failure{Why: "it did not answer in time", Retry: true}
	case errors.Is(err, context.Canceled):
		return &Failure{Why: "the program was stopping", Retry: true}
	}
	return &Failure{Why: "it failed without saying why", Retry: true}
}
