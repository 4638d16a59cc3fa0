// Package command hands a message to a program on this machine, as JSON on its
// standard input.
//
// It guarantees: the program is started directly, never through a shell, with
// the arguments that the keeper wrote and nothing of the message among them; it
// is ended at the deadline; and what it prints is neither kept nor shown.
package command

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os/exec"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

// DataErr is the exit code by which the program says that it will never take
// this message (EX_DATAERR of sysexits.h). Any other code but 0 may pass.
const DataErr = 65

// Command is a [notify.Transport].
type Command struct{ argv []string }

// New returns a transport that runs argv. The program must be there already.
func New(argv []string) (*Command, error) {
	const hint = "Write the program's path and its arguments as a list."
	if len(argv) == 0 || argv[0] == "" {
		return nil, home.Hinted("set up a command", hint, "no program is named")
	}
	path, err := exec.LookPath(argv[0])
	if err != nil {
		return nil, home.Hinted("set up a command", hint, "the program %q cannot be run", argv[0])
	}
	return &Command{argv: append([]string{path}, argv[1:]...)}, nil
}

// Send runs the program. It returns nil only if the program ended with 0.
func (c *Command) Send(ctx context.Context, m notify.Message) error {
	input, err := json.Marshal(m)
	if err != nil {
		return notify.Refused("the message cannot be written as JSON")
	}
	cmd := exec.CommandContext(ctx, c.argv[0], c.argv[1:]...)
	cmd.Stdin = bytes.NewReader(input)
	cmd.WaitDelay = time.Second // for a child of its own that keeps the pipe open
	err = cmd.Run()
	var exit *exec.ExitError
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return notify.Unreached("the program did not end in time")
	case errors.As(err, &exit) && exit.ExitCode() == DataErr:
		return notify.Refused("the program will not take it (code %d)", DataErr)
	case errors.As(err, &exit):
		return notify.Unreached("the program ended with code %d", exit.ExitCode())
	}
	return notify.Unreached("the program could not be run")
}

// String hides the arguments, which may hold a secret.
func (c *Command) String() string { return "command" }

// GoString hides them from %#v.
func (c *Command) GoString() string { return "command" }
