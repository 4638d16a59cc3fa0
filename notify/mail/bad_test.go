package mail

import (
	"context"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"
)

// hello is how a server without extensions begins, up to the DATA command.
var hello = []string{"220 here\r\n", "250 hello\r\n", "250 from\r\n", "250 to\r\n", "354 go on\r\n"}

// A server that hangs or hangs up at any step is left by the deadline.
func TestMail_Send_BadServers(t *testing.T) {
	for step := range len(hello) + 1 {
		for name, last := range map[string]func(net.Conn){"hangs": hang, "slams": slam} {
			t.Run(fmt.Sprintf("%s after %d", name, step), func(t *testing.T) {
				addr := script(t, hello[:step], last)
				ctx, cancel := context.WithTimeout(t.Context(), 150*time.Millisecond)
				defer cancel()
				f := failure(t, transport(t, config(addr, Plain)).Send(ctx, message()))
				if !f.Retry || name == "hangs" && f.Why != "the mail server did not answer in time" {
					t.Errorf("%+v", f)
				}
			})
		}
	}
}

// It talks rubbish, or TLS where none is expected.
func TestMail_Send_Garbage(t *testing.T) {
	for _, line := range []string{"HTTP/1.1 400 Bad Request\r\n\r\n", "\x16\x03\x01\x02\x00", "999 \r\n", "220\r\n221 " + password + "\r\n", strings.Repeat("2", 100_000)} {
		addr := script(t, []string{line}, slam)
		if f := failure(t, transport(t, config(addr, Plain)).Send(t.Context(), message())); !f.Retry {
			t.Errorf("%.20q: %+v", line, f)
		}
	}
}

// Once the server took the letter, whatever goes wrong after it is no failure:
// trying again would send it twice.
func TestMail_Send_TakenThenBroken(t *testing.T) {
	taken := append(append([]string{}, hello...), "250 taken\r\n")
	addr := script(t, taken, slam)
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	if err := transport(t, config(addr, Plain)).Send(ctx, message()); err != nil {
		t.Errorf("it counts as failed: %v", err)
	}
}

func TestMail_Send_NotThere(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().(*net.TCPAddr)
	l.Close() // nobody listens there now
	for _, encrypt := range []string{StartTLS, TLS, Plain} {
		if f := failure(t, transport(t, config(addr, encrypt)).Send(t.Context(), message())); !f.Retry || !strings.Contains(f.Why, "cannot be reached") {
			t.Errorf("%s: %+v", encrypt, f)
		}
	}
}
