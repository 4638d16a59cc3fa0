package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// A broker that refuses us runs: what helps is a password.
func TestUnheard_Refused_WantsAPassword(t *testing.T) {
	for _, err := range []error{packets.ErrorRefusedBadUsernameOrPassword, packets.ErrorRefusedNotAuthorised} {
		if got := unheard(fmt.Errorf("connect: %w", err)); !strings.Contains(got, "password_file") {
			t.Errorf("%v: %s", err, got)
		}
	}
	if got := unheard(packets.ErrorRefusedServerUnavailable); !strings.Contains(got, "Start the broker") {
		t.Error(got)
	}
}
