// Package shout hands a message to one of the many services that the shoutrrr
// library knows, by a URL such as ntfy://host/topic.
//
// The library has no deadline of its own, quotes whole URLs with the passwords
// in them in its errors, and prints what it does. So it runs in a child process:
// this program again, as [Carry]. That guarantees that a service that hangs is
// ended at the deadline with all it holds; that what the library says or prints
// goes nowhere, only the kind of a failure comes back; and that a redirect is
// refused wherever the library uses the common HTTP transport.
//
// What it does not: a few of its services bring a transport of their own and
// follow redirects as Go does. Where that matters, use a webhook. And no service
// is given the message's id, so a person may see a second copy.
package shout

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/notify"

	"github.com/nicholas-fedor/shoutrrr/pkg/router"
)

// Config is the service, and how to start the child.
type Config struct {
	URL   notify.Secret
	Child []string // program and arguments that end up in Carry; nil: this program with the argument "carry"
}

// Shout is a [notify.Transport].
type Shout struct {
	url   string
	child []string
}

// New returns a transport for c, or what is wrong with it, without quoting it.
// It does not go online.
func New(c Config) (*Shout, error) {
	u, err := url.Parse(string(c.URL))
	if err != nil || u.Scheme == "" {
		return nil, wrong("the address cannot be used")
	}
	scheme, _, _ := strings.Cut(u.Scheme, "+")
	if _, err := new(router.ServiceRouter).NewService(scheme); err != nil || scheme == "logger" {
		return nil, wrong("there is no service %q", scheme)
	}
	if c.Child == nil {
		self, err := os.Executable()
		if err != nil {
			return nil, wrong("the program cannot find itself")
		}
		c.Child = []string{self, "carry"}
	}
	return &Shout{url: string(c.URL), child: c.Child}, nil
}

func wrong(format string, args ...any) error {
	return home.Hinted("set up a service", "Write the service's address as the shoutrrr library documents it, beginning with the name of the service and a colon.", format, args...)
}

// errand is what the child is given, answer what it gives back.
type (
	errand struct {
		URL, Subject, Body string
	}
	answer struct {
		Kind  kind
		Code  int           // of HTTP, for refused and busy
		After time.Duration // for busy
	}
)

// kind is how an errand ended.
type kind string

const (
	taken     kind = "taken"
	unusable  kind = "unusable"  // the service does not take the address
	unknown   kind = "unknown"   // the name of its host cannot be found
	unreached kind = "unreached" // no connection, or it broke
	redirects kind = "redirects"
	refused   kind = "refused" // it answered Code, and will again
	busy      kind = "busy"    // it answered Code, and may not again
	failed    kind = "failed"  // nothing is known but that it failed
)

// Send starts the child and waits until it ended or ctx did.
func (s *Shout) Send(ctx context.Context, m notify.Message) error {
	in, err := json.Marshal(errand{s.url, m.Subject, m.Body})
	if err != nil {
		return notify.Refused("the message cannot be written as JSON")
	}
	var out bytes.Buffer
	cmd := exec.CommandContext(ctx, s.child[0], s.child[1:]...)
	cmd.Stdin, cmd.Stdout = bytes.NewReader(in), &out
	cmd.WaitDelay = time.Second
	err = cmd.Run()
	if ctx.Err() != nil {
		return notify.Unreached("it did not answer in time")
	}
	var a answer
	if err != nil || json.Unmarshal(lastLine(out.Bytes()), &a) != nil {
		return notify.Unreached("the part of the program that serves this channel broke down")
	}
	return a.failure()
}

// lastLine is where the answer is: the library may print before it.
func lastLine(b []byte) []byte {
	b = bytes.TrimSpace(b)
	return b[bytes.LastIndexByte(b, '\n')+1:]
}

// failure is a as an error; nil where it was taken. Nothing of what the child
// says goes into it but its kind and a number.
func (a answer) failure() error {
	switch a.Kind {
	case taken:
		return nil
	case unusable:
		return notify.Refused("the service does not take this address")
	case unknown:
		return notify.Unreached("its name cannot be found")
	case unreached:
		return notify.Unreached("it cannot be reached")
	case redirects:
		return notify.Refused("it redirects elsewhere, which is not followed")
	case refused:
		return notify.Refused("it answered HTTP %d", a.Code)
	case busy:
		return &notify.Failure{Why: fmt.Sprintf("it answered HTTP %d", a.Code), Retry: true, After: min(max(a.After, 0), time.Hour)}
	}
	return notify.Unreached("the service did not take it")
}

// String hides the address.
func (s *Shout) String() string { return "shout" }

// GoString hides it from %#v.
func (s *Shout) GoString() string { return "shout" }
