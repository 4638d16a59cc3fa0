package app

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"weighbeam/app/door"
	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/broker"
	"weighbeam/ingest/httpapi"
	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/weigh"
	"weighbeam/manual"
	"weighbeam/notify/push"
	"weighbeam/store"
	"weighbeam/store/mirror"
)

// Options are what a caller may set that is no setting of a user.
type Options struct {
	Now     func() time.Time // the clock of the house; nil: time.Now
	Log     *slog.Logger     // nil: slog.Default()
	Round   time.Duration    // how often, in real time, a stage looks at the clock; 0: roundWait
	Version string
	Demo    bool // the house is made up, and the pages say so
	// CaughtUp is called once, when everything that is derived was made anew after the
	// start; nil: nobody waits for it.
	CaughtUp func()
	// Handle adds pages of the caller's own.
	Handle map[string]http.Handler
}

// App is the whole program, between Start and Stop.
type App struct {
	cfg Config
	opt Options

	store    *store.DB
	house    atomic.Pointer[home.Household]
	router   *ingest.Router
	hearing  *ingest.Hearing
	appender *ingest.Appender
	api      *httpapi.Handler
	weigher  *weigh.Runner
	watcher  *watch.Runner
	stages   []*follower // of the journal, in the order of a reading's way
	changer  *changer    // of the household

	retelling sync.Mutex  // one change of who is told at a time
	silenced  bool        // nobody is told any more; guarded by retelling
	untold    atomic.Bool // the household was changed, and who is told could not be

	telling  atomic.Pointer[telling] // see told
	echoes   atomic.Int64            // notices of ours that came back from a broker
	answers  *answers
	book     *push.Book // browsers that ask to be told
	pushing  push.Config
	ownClock bool                         // the clock of the house is not that of the machine
	session  atomic.Pointer[mqtt.Session] // nil without a broker outside
	broker   *broker.Broker
	listener net.Listener
	registry *prometheus.Registry
	words    manual.Words                 // of the home check
	serving  atomic.Pointer[http.Handler] // see serveAnew
	mirror   *mirror.Mirror               // nil: the settings name none

	certificate *door.Certificate // nil: the pages speak no TLS

	stops []func() // in the order of starting; run backwards
	once  sync.Once
}

// patience is how long one part may take to stop.
const patience = 5 * time.Second

// roundWait is how often a stage looks at the clock where nothing else is said.
const roundWait = 500 * time.Millisecond

// Start opens the store and starts every part, those that take readings in last.
// If one cannot start, those before it are stopped again.
func Start(ctx context.Context, cfg Config, opt Options) (*App, error) {
	ownClock := opt.Now != nil
	if !ownClock {
		opt.Now = time.Now
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	if opt.Round == 0 {
		opt.Round = roundWait
	}
	a := &App{cfg: cfg, opt: opt, ownClock: ownClock}
	for _, part := range []func(context.Context) error{
		a.openStore, a.startIngest, a.startStages, a.startNotify, a.startMirror, a.startPages, a.startBroker, a.startSession, a.startInspect,
	} {
		if err := part(ctx); err != nil {
			a.Stop()
			return nil, err
		}
	}
	return a, nil
}

// Stop stops every part, those that take readings in first, and closes the
// store. What was acknowledged is stored; what was not comes again.
func (a *App) Stop() {
	a.once.Do(func() {
		for i := len(a.stops) - 1; i >= 0; i-- {
			a.stops[i]()
		}
	})
}

// onStop says what to do when the program stops, before what was said earlier.
func (a *App) onStop(f func()) { a.stops = append(a.stops, f) }

// spawn runs f until Stop; Stop waits for it.
func (a *App) spawn(f func(ctx context.Context)) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		f(ctx)
	}()
	a.onStop(func() {
		cancel()
		<-done
	})
}

func (a *App) openStore(ctx context.Context) error {
	if info, err := os.Stat(a.cfg.Data); err == nil && info.Size() == 0 { // as a file is left by a disk that failed
		a.opt.Log.Warn("the store is an empty file and begins anew", "data", a.cfg.Data,
			"hint", "If it held something, stop weighbeam and restore a backup: weighbeam restore FILE.")
	}
	db, err := store.Open(ctx, a.cfg.Data)
	if err != nil {
		return err
	}
	a.store = db
	a.onStop(func() {
		if err := db.Close(); err != nil {
			a.opt.Log.Error("closing the store", "err", err)
		}
	})
	if err := a.tellUndone(ctx); err != nil {
		return err
	}
	a.changer = &changer{db: db, file: a.cfg.Household}
	if err := a.changer.adopt(ctx); err != nil {
		return err
	}
	h, err := db.Household(ctx)
	if err != nil {
		return err
	}
	a.house.Store(&h)
	return a.readTold(ctx)
}

func (a *App) startIngest(context.Context) error {
	router, err := ingest.NewRouter(*a.house.Load())
	if err != nil {
		return err
	}
	if err := a.told().cfg.crossed(*a.house.Load()); err != nil {
		a.opt.Log.Error("notices go where a scale listens, and will be set aside there", "err", err, "hint", home.Hint(err))
	}
	a.router, a.hearing = router, ingest.NewHearing()
	a.changer.fits, a.changer.live = a.reachable, a.goBy
	a.appender = ingest.NewAppender(a.store, a.cfg.decoder(router), ingest.Options{Now: a.opt.Now, Log: a.opt.Log, Hearing: a.hearing})
	a.spawn(func(ctx context.Context) { _ = a.appender.Run(ctx) }) // it returns nil by contract
	devices, err := a.cfg.devices()
	if err != nil {
		return err
	}
	if a.api, err = httpapi.New(httpapi.Config{Devices: devices}, a.appender, router, a.store); err != nil {
		return err
	}
	return nil
}

// senders are the devices that post over HTTP, without their tokens.
func (c Config) senders() []httpapi.Device {
	var all []httpapi.Device
	for _, d := range c.Device {
		all = append(all, httpapi.Device{Name: d.Name, Sources: d.Sources})
	}
	return all
}

// decoder reads what comes as the household says, and what came over HTTP and is
// tried again as its device may.
func (c Config) decoder(r *ingest.Router) ingest.Decoder {
	return httpapi.Decoder{Devices: c.senders(), Router: r}
}

func (a *App) startPages(context.Context) error {
	words, err := a.cfg.formWords()
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", a.cfg.Listen.String())
	if err != nil {
		return &home.Error{Op: "open the pages", Err: err,
			Hint: "Another program has that port, or the address is not of this machine: choose another with the key listen."}
	}
	a.listener, l = l, bounded(l)
	a.registry = a.metrics()
	guarded, err := a.door()
	if err != nil {
		l.Close()
		return err
	}
	if a.certificate != nil {
		l = tls.NewListener(l, a.certificate.Config())
	}
	a.words = words
	a.serveAnew()
	server := newServer(guarded.Handler(a), a.opt.Log)
	go func() {
		if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			a.opt.Log.Error("the pages stopped", "err", err)
		}
	}()
	server.RegisterOnShutdown(a.hearing.Close)
	a.onStop(func() {
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		defer cancel()
		if err := server.Shutdown(ctx); err != nil {
			server.Close()
		}
	})
	return nil
}

// Store is the store of the running program.
func (a *App) Store() *store.DB { return a.store }

// Deliver hands a delivery to the committer, as every way in does.
func (a *App) Deliver(ctx context.Context, d ingest.Delivery) error {
	return a.appender.Deliver(ctx, d)
}

// PagesURL is where a browser on this machine finds the pages.
func (a *App) PagesURL() string {
	scheme := "http://"
	if a.certificate != nil {
		scheme = "https://"
	}
	return scheme + asked(a.listener.Addr())
}

// asked is where to ask a listener: one on every address of the machine says none.
func asked(addr net.Addr) string {
	if tcp, ok := addr.(*net.TCPAddr); ok && tcp.IP.IsUnspecified() {
		return net.JoinHostPort("127.0.0.1", strconv.Itoa(tcp.Port))
	}
	return addr.String()
}

// BrokerAddr is where the broker inside listens, "" where there is none.
func (a *App) BrokerAddr() string {
	if a.broker == nil {
		return ""
	}
	return a.broker.Addr()
}
