// Package catcher is a real HTTP server on loopback, for tests, that keeps and
// counts what it is sent.
package catcher

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
)

// Server keeps each request with its body.
type Server struct {
	*httptest.Server

	mu     sync.Mutex
	caught []Caught
}

// Caught is one request.
type Caught struct {
	*http.Request
	Body string
}

// Serve starts a server that answers with answer; it ends with the test.
func Serve(t testing.TB, answer http.HandlerFunc) *Server {
	return started(t, answer, (*httptest.Server).Start)
}

// ServeTLS starts one that speaks TLS.
func ServeTLS(t testing.TB, answer http.HandlerFunc) *Server {
	return started(t, answer, (*httptest.Server).StartTLS)
}

func started(t testing.TB, answer http.HandlerFunc, start func(*httptest.Server)) *Server {
	t.Helper()
	s := &Server{}
	s.Server = httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			return
		}
		s.mu.Lock()
		s.caught = append(s.caught, Caught{r, string(body)})
		s.mu.Unlock()
		answer(w, r)
	}))
	s.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)
	start(s.Server)
	t.Cleanup(s.Close)
	return s
}

// Caught returns what came so far, in order.
func (s *Server) Caught() []Caught {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Caught(nil), s.caught...)
}

// OK answers 200 and nothing else.
func OK(http.ResponseWriter, *http.Request) {}
