package mqtttest

import (
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// Patience bounds every wait in these tests; nothing takes anywhere near as long.
const Patience = 20 * time.Second

// Client connects a plain client with a clean session; change adds to its options.
func Client(t testing.TB, url, id string, change ...func(*paho.ClientOptions)) paho.Client {
	t.Helper()
	o := paho.NewClientOptions().AddBroker(url).SetClientID(id).SetProtocolVersion(4).
		SetAutoReconnect(false).SetConnectTimeout(Patience)
	for _, f := range change {
		f(o)
	}
	c := paho.NewClient(o)
	if token := c.Connect(); !token.WaitTimeout(Patience) || token.Error() != nil {
		t.Fatalf("connect to %s: %v", url, token.Error())
	}
	t.Cleanup(func() { c.Disconnect(0) })
	return c
}

// Wait waits for the broker's answer.
func Wait(t testing.TB, token paho.Token) {
	t.Helper()
	if !token.WaitTimeout(Patience) {
		t.Fatal("no answer from the broker")
	}
	if token.Error() != nil {
		t.Fatal(token.Error())
	}
}

// Until waits for a condition, looking often.
func Until(t testing.TB, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(Patience); !ok(); {
		if time.Now().After(end) {
			t.Fatalf("waited %s for: %s", Patience, what)
		}
		<-time.After(2 * time.Millisecond)
	}
}

// Acknowledged reports whether the broker has answered, and well, without waiting.
func Acknowledged(token paho.Token) bool {
	select {
	case <-token.Done():
		return token.Error() == nil
	default:
		return false
	}
}
