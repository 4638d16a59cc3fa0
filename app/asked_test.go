package app

import (
	"net"
	"testing"
)

// The address that is shown can be opened, also where every address is listened on.
func TestAsked(t *testing.T) {
	for listening, want := range map[string]string{"[::]:8640": "127.0.0.1:8640", "0.0.0.0:8640": "127.0.0.1:8640", "192.0.2.7:80": "192.0.2.7:80", "[::1]:80": "[::1]:80"} {
		addr, err := net.ResolveTCPAddr("tcp", listening)
		if err != nil {
			t.Fatal(err)
		}
		if got := asked(addr); got != want {
			t.Errorf("%s: %s, want %s", listening, got, want)
		}
	}
}
