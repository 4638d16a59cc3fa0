package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/ingest"
)

type listenCmd struct {
	where
	Broker    string `help:"Broker to listen to, in place of the one that the settings name." placeholder:"ADDRESS"`
	Household string `help:"Household file, in place of who the store says lives here." type:"path" placeholder:"FILE"`
	Topic     string `help:"Which topics, as an MQTT filter." default:"#"`
	JSON      bool   `help:"One JSON object a message."`
}

// Run listens beside the program: under a name of its own and with nothing kept,
// so it takes no message from it.
func (c listenCmd) Run(ctx context.Context, t terminal) error {
	if err := ingest.ValidFilter(c.Topic); err != nil {
		return err
	}
	cfg, err := c.settings()
	if err != nil {
		return err
	}
	h, err := c.household(ctx, cfg)
	if err != nil {
		return err
	}
	listener, err := app.NewListener(h)
	if err != nil {
		return err
	}
	messages, news := make(chan paho.Message, 1000), make(chan string, 10)
	client, err := c.connect(cfg, messages, news)
	if err != nil {
		return err
	}
	defer client.Disconnect(100)
	if !c.JSON {
		fmt.Fprintf(t.out, "Listening to %s. Ctrl-C ends it.\n", c.Topic)
	}
	for {
		select {
		case <-ctx.Done():
			return c.end(t, listener)
		case text := <-news:
			fmt.Fprintln(t.err, text)
		case m := <-messages:
			if err := c.show(t.out, listener.Hear(m.Topic(), m.Payload(), m.Retained(), time.Now())); err != nil {
				return err
			}
		}
	}
}

func (c listenCmd) settings() (app.Config, error) {
	if c.Config != "" {
		return app.ReadConfig(c.Config)
	}
	return app.ParseConfig(nil)
}

// household is who lives here: from a file, or from the store, also while
// weighbeam runs. Without either, SenML with full names is understood.
func (c listenCmd) household(ctx context.Context, cfg app.Config) (home.Household, error) {
	switch {
	case c.Household != "":
		return app.ReadHousehold(c.Household)
	case cfg.Household != "":
		return app.ReadHousehold(cfg.Household)
	}
	if path, err := c.path(); err != nil {
		return home.Household{}, err
	} else if _, err := os.Stat(path); err != nil {
		return home.Household{}, nil
	}
	db, err := c.peek(ctx)
	if err != nil {
		return home.Household{}, err
	}
	defer db.Close()
	return db.Household(ctx)
}

// connect listens, from each connect on: a broker forgets what a client wanted that it
// keeps nothing for. news is told of what happens to the connection later.
func (c listenCmd) connect(cfg app.Config, to chan<- paho.Message, news chan<- string) (paho.Client, error) {
	const op = "listen"
	opts, err := cfg.Listening(c.Broker)
	if err != nil {
		return nil, err
	}
	opts.SetClientID(fmt.Sprintf("weighbeam-listen-%d", os.Getpid())).SetCleanSession(true).SetConnectTimeout(5 * time.Second)
	opts.SetDefaultPublishHandler(func(_ paho.Client, m paho.Message) { to <- m })
	opts.SetMaxReconnectInterval(10 * time.Second)
	opts.SetConnectionLostHandler(func(_ paho.Client, err error) {
		news <- fmt.Sprintf("The broker is gone (%v): nothing is heard. Trying again.", err)
	})
	first := make(chan error, 1)
	var begin sync.Once
	opts.SetOnConnectHandler(func(client paho.Client) {
		err, later := c.subscribe(client), true
		begin.Do(func() { first <- err; later = false })
		switch {
		case later && err != nil:
			news <- fmt.Sprintf("The broker is back, and nothing is heard: %v", err)
		case later:
			news <- "The broker is back. Listening again."
		}
	})
	client := paho.NewClient(opts)
	if t := client.Connect(); !t.WaitTimeout(10*time.Second) || t.Error() != nil {
		return nil, &home.Error{Op: op, Err: fmt.Errorf("no connection to the broker: %w", t.Error()), Hint: unheard(t.Error())}
	}
	if err := <-first; err != nil {
		client.Disconnect(100)
		return nil, &home.Error{Op: op, Hint: "Check that this user may read the topics.", Err: err}
	}
	return client, nil
}

func (c listenCmd) subscribe(client paho.Client) error {
	t := client.Subscribe(c.Topic, 1, nil)
	switch sub, _ := t.(*paho.SubscribeToken); {
	case !t.WaitTimeout(10 * time.Second):
		return fmt.Errorf("subscribe to %s: the broker does not answer", c.Topic)
	case t.Error() != nil:
		return fmt.Errorf("subscribe to %s: %w", c.Topic, t.Error())
	case sub != nil && sub.Result()[c.Topic] > 2:
		return fmt.Errorf("subscribe to %s: the broker refuses it", c.Topic)
	}
	return nil
}

// unheard says what to do where the broker does not let us in.
func unheard(err error) string {
	if errors.Is(err, packets.ErrorRefusedBadUsernameOrPassword) || errors.Is(err, packets.ErrorRefusedNotAuthorised) {
		return "It wants a user and a password: write server, username and password_file under [mqtt] of a settings file, and name that with --config in place of --broker. While weighbeam runs, its page Listen shows the same."
	}
	return "Start the broker (or weighbeam, which has one inside), or name another with --broker."
}

func (c listenCmd) show(w io.Writer, h app.Heard) error {
	if c.JSON {
		enc := json.NewEncoder(w)
		enc.SetEscapeHTML(false)
		return enc.Encode(h)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s  %s", h.Time.Local().Format(time.TimeOnly), h.Topic, h.Payload)
	if h.Retained {
		b.WriteString("  (a copy that the broker kept)")
	}
	if h.Gap > 0 {
		fmt.Fprintf(&b, "  (after %.1f s; %s)", h.Gap, often(h.Rate))
	}
	for _, r := range h.Readings {
		fmt.Fprintf(&b, "\n    %s %s %.6g %s at %s (%s)", r.Source, r.Quantity, r.Value, r.Unit, r.Time.Local().Format(time.DateTime), r.Clock)
	}
	if h.Why != "" {
		fmt.Fprintf(&b, "\n    not understood: %s", h.Why)
	}
	_, err := fmt.Fprintln(w, b.String())
	return err
}

// often says how often something comes of late.
func often(perSecond float64) string {
	if perSecond < 1 {
		return fmt.Sprintf("one every %.1f s", 1/perSecond)
	}
	return fmt.Sprintf("%.1f a second", perSecond)
}

func (c listenCmd) end(t terminal, l *app.Listener) error {
	if c.JSON {
		return nil
	}
	fmt.Fprintln(t.out)
	for _, line := range l.Summary(c.Topic) {
		fmt.Fprintln(t.out, line)
	}
	return nil
}
