package broker

import (
	"errors"
	"net"
	"syscall"
	"testing"
	"time"
)

// stumbling is a listener that gives what it is told, then is closed.
type stumbling struct {
	net.Listener
	left []error // nil: a connection
}

func (s *stumbling) Accept() (net.Conn, error) {
	if len(s.left) == 0 {
		return nil, net.ErrClosed
	}
	err := s.left[0]
	if s.left = s.left[1:]; err != nil {
		return nil, err
	}
	here, _ := net.Pipe()
	return here, nil
}

// An error that passes does not end the listening; being closed does.
func TestGreeted_Accept_OutlastsErrors(t *testing.T) {
	g := greeted{&stumbling{left: []error{syscall.EMFILE, nil}}, time.Minute}
	if c, err := g.Accept(); err != nil || c == nil {
		t.Errorf("after an error that passed: %v", err)
	}
	if _, err := g.Accept(); !errors.Is(err, net.ErrClosed) {
		t.Errorf("closed: %v", err)
	}
}
