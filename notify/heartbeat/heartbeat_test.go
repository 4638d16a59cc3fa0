package heartbeat

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"weighbeam/notify"
)

// listener counts beats on a real server and tells of each on a channel.
func listener(t *testing.T, answer func(n int64, w http.ResponseWriter, r *http.Request)) (*httptest.Server, chan int64) {
	t.Helper()
	var count atomic.Int64
	beats := make(chan int64, 100)
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n := count.Add(1)
		answer(n, w, r)
		beats <- n
	}))
	t.Cleanup(s.Close)
	return s, beats
}

// run runs h until the test ends.
func run(t *testing.T, h *Heartbeat) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	var done sync.WaitGroup
	done.Go(func() { h.Run(ctx) })
	t.Cleanup(func() { cancel(); done.Wait() })
}

func await(t *testing.T, beats chan int64, n int64) {
	t.Helper()
	for over := time.After(10 * time.Second); ; {
		select {
		case got := <-beats:
			if got >= n {
				return
			}
		case <-over:
			t.Fatalf("beat %d never came", n)
		}
	}
}

func TestHeartbeat_Run_Beats(t *testing.T) {
	s, beats := listener(t, func(int64, http.ResponseWriter, *http.Request) {})
	h, err := New(Config{URL: notify.Secret(s.URL + "/planted"), Every: 5 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	run(t, h)
	await(t, beats, 3)
	if h.Last().IsZero() {
		t.Error("no beat was noted")
	}
}

// A receiver that fails is logged once for each time that it begins, without
// its address, and the beat goes on.
func TestHeartbeat_Run_Fails(t *testing.T) {
	s, beats := listener(t, func(_ int64, w http.ResponseWriter, r *http.Request) { http.Error(w, r.URL.String(), 500) })
	var log strings.Builder
	h, err := New(Config{URL: notify.Secret(s.URL + "/planted"), Every: 5 * time.Millisecond, Log: slog.New(slog.NewTextHandler(&log, nil))})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); h.Run(ctx) }()
	await(t, beats, 4)
	cancel()
	<-done
	if !h.Last().IsZero() {
		t.Error("a failed beat was noted as taken")
	}
	if n := strings.Count(log.String(), "not taken"); n != 1 || strings.Contains(log.String(), "planted") {
		t.Errorf("logged %d times: %s", n, log.String())
	}
}

// A program that is not well must not say that it is.
func TestHeartbeat_Run_Unwell(t *testing.T) {
	s, beats := listener(t, func(int64, http.ResponseWriter, *http.Request) {})
	asked := make(chan bool, 100)
	var well atomic.Bool
	h, err := New(Config{URL: notify.Secret(s.URL), Every: 5 * time.Millisecond, Well: func() bool {
		asked <- true
		return well.Load()
	}})
	if err != nil {
		t.Fatal(err)
	}
	run(t, h)
	for range 5 {
		<-asked
	}
	if len(beats) != 0 {
		t.Error("it beats while unwell")
	}
	well.Store(true)
	await(t, beats, 1)
}

// A redirect is not followed and does not count.
func TestHeartbeat_Run_NoRedirect(t *testing.T) {
	elsewhere, strays := listener(t, func(int64, http.ResponseWriter, *http.Request) {})
	s, beats := listener(t, func(_ int64, w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, elsewhere.URL, http.StatusTemporaryRedirect)
	})
	h, err := New(Config{URL: notify.Secret(s.URL), Every: 5 * time.Millisecond, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	run(t, h)
	await(t, beats, 3)
	if len(strays) != 0 || !h.Last().IsZero() {
		t.Error("the redirect was followed or counted")
	}
}

func TestNew_Refuses(t *testing.T) {
	for _, addr := range []string{"", "host", "ftp://planted@host", "https://"} {
		_, err := New(Config{URL: notify.Secret(addr)})
		if err == nil || strings.Contains(fmt.Sprintf("%+v", err), "planted") {
			t.Errorf("%q: %v", addr, err)
		}
	}
}
