package main

import (
	"context"
	"log/slog"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
)

// tellSystemd says that the program is ready and, while its store answers, that it
// lives; a program that hangs says nothing and is started again. A broker that is
// away is no reason to start again. Without systemd it does nothing.
func tellSystemd(ctx context.Context, live func(context.Context) bool, log *slog.Logger) {
	say := func(state string) {
		if _, err := daemon.SdNotify(false, state); err != nil {
			log.Warn("telling systemd", "state", state, "err", err)
		}
	}
	every, err := daemon.SdWatchdogEnabled(false)
	if err != nil {
		log.Warn("reading how often systemd asks", "err", err)
	}
	say(daemon.SdNotifyReady)
	if every == 0 {
		<-ctx.Done()
		say(daemon.SdNotifyStopping)
		return
	}
	tick := time.NewTicker(every / 3)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			say(daemon.SdNotifyStopping)
			return
		case <-tick.C:
			if live(ctx) {
				say(daemon.SdNotifyWatchdog)
			}
		}
	}
}
