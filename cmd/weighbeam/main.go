// Command weighbeam watches over the weight and the breathing of the cats of a house.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
	"github.com/willabides/kongplete"

	"weighbeam/app"
	"weighbeam/home"
)

// version is set when a release is built.
var version = "development"

type cli struct {
	Demo     demoCmd     `cmd:"" help:"Run a made-up house with eight months of history, to look around."`
	Serve    serveCmd    `cmd:"" help:"Watch over a real house."`
	Listen   listenCmd   `cmd:"" help:"Show what arrives at the broker and how it is understood, to wire a scale up."`
	Aside    asideCmd    `cmd:"" help:"List what could not be read, also while weighbeam runs."`
	Check    checkCmd    `cmd:"" help:"Hand a home check in: a weight, a count, what was seen."`
	Claim    claimCmd    `cmd:"" help:"Give a topic that nobody claims to a scale, and try again what it sent."`
	Retry    retryCmd    `cmd:"" help:"Try again what could not be read."`
	Dismiss  dismissCmd  `cmd:"" help:"Let what could not be read, and is of no use, wait no more."`
	Try      tryCmd      `cmd:"" help:"Send a message that asks for nothing over a channel, to see whether it works; or list the channels."`
	Why      whyCmd      `cmd:"" help:"Show every decision about a finding: who was told, who was not, and why."`
	Replay   replayCmd   `cmd:"" help:"Run a history of readings through the live code and print what it would have found."`
	Tune     tuneCmd     `cmd:"" help:"Show what other budgets of false findings would have told of a history."`
	Trend    trendCmd    `cmd:"" help:"Describe any series of time and value: level, pace, since when, and what changed before."`
	Sheet    sheetCmd    `cmd:"" help:"Write two pages about a cat for the veterinary practice."`
	Import   importCmd   `cmd:"" help:"Take readings from files into the store."`
	Export   exportCmd   `cmd:"" help:"Write what the store holds to a file, also while weighbeam runs."`
	Backup   backupCmd   `cmd:"" help:"Copy the store, also while weighbeam runs."`
	Restore  restoreCmd  `cmd:"" help:"Put a backup in the place of the store."`
	Verify   verifyCmd   `cmd:"" help:"Look at everything that the settings name, and say what to do about what is wrong."`
	Healthy  healthyCmd  `cmd:"" help:"Ask a running weighbeam whether it is well: the exit code says."`
	Mirror   mirrorCmd   `cmd:"" help:"Say how far the mirror in a time-series engine is, or write it again."`
	Password passwordCmd `cmd:"" help:"Read a password and print the hash that stands for it in the settings."`
	Token    tokenCmd    `cmd:"" help:"Make a token for a device, and the hash that stands for it in the settings."`
	Simulate simulateCmd `cmd:"" help:"Write the readings of a made-up house, and the truth beside them."`

	Calibrate calibrateCmd `cmd:"" help:"Find out with known masses how true a scale is, and correct it from then on."`

	Completion kongplete.InstallCompletions `cmd:"" help:"Print what makes the shell complete commands, to be read by its start file."`
	Man        manCmd                       `cmd:"" hidden:""`

	Carry   carryCmd         `cmd:"" hidden:""`
	Version kong.VersionFlag `help:"Print the version and quit."`
}

// terminal is where a command speaks.
type terminal struct {
	out, err io.Writer
	house    app.Options // of the house that is watched; the zero value goes by the machine's clock
}

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// run is the program without its process: arguments in, exit code out. 2 means
// that the call or the settings are wrong, 1 that something failed.
func run(args []string, out, errOut io.Writer) int {
	return terminal{out: out, err: errOut}.run(args)
}

func (t terminal) run(args []string) int {
	var c cli
	parser, err := kong.New(&c, kong.Name("weighbeam"), kong.Vars{"version": version, "flags": flagNames(), "devices": deviceNames()},
		kong.Description("Takes every weighing and home check of your cats, and tells you in time when something slips. It watches; your veterinary practice decides."),
		kong.Writers(t.out, t.err), kong.UsageOnError(), kong.Exit(func(code int) { panic(exit(code)) }))
	if err != nil {
		panic("command line: " + err.Error()) // the struct above is wrong
	}
	return guarded(func() int {
		kongplete.Complete(parser, kongplete.WithExitFunc(func(code int) { panic(exit(code)) })) // where a shell asks
		call, err := parser.Parse(args)
		if err != nil {
			fmt.Fprintf(t.err, "weighbeam: %v\n", err)
			return 2
		}
		ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
		defer stop()
		call.BindTo(ctx, (*context.Context)(nil))
		return report(t.err, call.Run(t))
	})
}

type exit int

// guarded turns the library's wish to end the process into an exit code.
func guarded(f func() int) (code int) {
	defer func() {
		switch e := recover().(type) {
		case nil:
		case exit:
			code = int(e)
		default:
			panic(e)
		}
	}()
	return f()
}

// report prints an error with what to do about it.
func report(w io.Writer, err error) int {
	if err == nil || errors.Is(err, context.Canceled) {
		return 0
	}
	fmt.Fprintf(w, "weighbeam: %v\n", err)
	if hint := home.Hint(err); hint != "" {
		fmt.Fprintf(w, "  %s\n", hint)
	}
	return 1
}

func logger(w io.Writer, level slog.Level) *slog.Logger {
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: level}))
}
