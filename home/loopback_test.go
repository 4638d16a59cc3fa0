package home

import "testing"

// Who counts as this machine decides who is asked for a password or a token.
func TestLoopback(t *testing.T) {
	for address, want := range map[string]bool{
		"127.0.0.1:8640": true, "127.9.9.9": true, "[::1]:8640": true, "[::ffff:127.0.0.1]:80": true, "[::1]": true, "::1": true,
		"localhost": true, "localhost:1883": true, "weighbeam.localhost:8640": true,
		// whole names only, and no name that somebody else can give out
		"localhost.example": false, "127.0.0.1.example:80": false, "xlocalhost": false, "localhost:80:90": false,
		// every address of the machine is not this machine alone
		"0.0.0.0:8640": false, ":8640": false, "[::]:8640": false, "": false, "@": false, "192.0.2.9:5": false,
	} {
		if got := Loopback(address); got != want {
			t.Errorf("%q: %v, want %v", address, got, want)
		}
	}
}
