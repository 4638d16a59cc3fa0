package broker_test

import (
	"net"
	"strings"
	"testing"

	paho "github.com/eclipse/paho.mqtt.golang"
	"golang.org/x/crypto/bcrypt"

	"weighbeam/home"
	"weighbeam/ingest/broker"
	"weighbeam/ingest/mqtt/mqtttest"
)

func TestStart_Refuses(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	device := broker.Device{User: "u", Password: "p", Topics: []string{"home/u/#"}}
	tests := []struct {
		name      string
		cfg       broker.Config
		why, hint string
	}{
		// open to the house and open to anyone
		{"open", broker.Config{Addr: "0.0.0.0:0"}, "no device has credentials", "Give each device"},
		{"open, every address", broker.Config{Addr: ":0"}, "no device has credentials", "Give each device"},
		{"port in use", broker.Config{Addr: taken.Addr().String()}, "in use", "Another program"},
		{"no port", broker.Config{Addr: "127.0.0.1"}, "missing port", "host:port"},
		{"no password", broker.Config{Devices: []broker.Device{{User: "u", Topics: device.Topics}}}, "no password", ""},
		{"no topics", broker.Config{Devices: []broker.Device{{User: "u", Password: "p"}}}, "no topics", ""},
		{"bad topic", broker.Config{Devices: []broker.Device{{User: "u", Password: "p", Topics: []string{"a/#/b"}}}}, "'#'", ""},
		{"same user", broker.Config{Devices: []broker.Device{device, device}}, "two devices", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b, err := broker.Start(tt.cfg, &sink{})
			if err == nil {
				b.Close()
				t.Fatal("it starts")
			}
			if !strings.Contains(err.Error(), tt.why) || !strings.Contains(home.Hint(err), tt.hint) {
				t.Errorf("error %q with hint %q, want %q and %q", err, home.Hint(err), tt.why, tt.hint)
			}
		})
	}
}

func TestBroker_Devices(t *testing.T) {
	hash, err := bcrypt.GenerateFromPassword([]byte("moss"), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	s := &sink{auto: true}
	// with credentials, every address may be listened on
	b := start(t, broker.Config{Addr: ":0", Devices: []broker.Device{
		{User: "box-1", Password: "fern", Topics: []string{"home/litter/1/#"}},
		{User: "box-2", Password: string(hash), Topics: []string{"home/litter/2"}},
	}}, s)
	url := "tcp://127.0.0.1:" + b.Port()

	logins := []struct {
		name, user, password string
		ok                   bool
	}{
		{"right", "box-1", "fern", true},
		{"right, hashed", "box-2", "moss", true},
		{"wrong password", "box-1", "moss", false},
		{"wrong password, hashed", "box-2", "fern", false},
		// the hash itself is no password
		{"the hash", "box-2", string(hash), false},
		{"unknown user", "box-3", "fern", false},
		{"nobody", "", "", false},
	}
	for _, tt := range logins {
		t.Run(tt.name, func(t *testing.T) {
			o := paho.NewClientOptions().AddBroker(url).SetClientID(tt.name).SetUsername(tt.user).SetPassword(tt.password).SetProtocolVersion(4)
			c := paho.NewClient(o)
			token := c.Connect()
			if !token.WaitTimeout(mqtttest.Patience) || (token.Error() == nil) != tt.ok {
				t.Errorf("%v", token.Error())
			}
			c.Disconnect(0)
		})
	}
	topics := []struct {
		topic string
		ok    bool
	}{
		{"home/litter/1/raw", true},
		{"home/litter/1", true}, // "#" takes in the level above
		{"home/litter/2", false},
		{"home/litter/1x", false},
	}
	for _, tt := range topics {
		t.Run(tt.topic, func(t *testing.T) {
			before := s.count()
			c := mqtttest.Client(t, url, tt.topic, func(o *paho.ClientOptions) { o.SetUsername("box-1").SetPassword("fern") })
			token := c.Publish(tt.topic, 1, false, "1")
			if !token.WaitTimeout(mqtttest.Patience) {
				t.Fatal("no answer")
			}
			if ok := token.Error() == nil && s.count() == before+1; ok != tt.ok {
				t.Errorf("published: %v (%v), want %v", ok, token.Error(), tt.ok)
			}
		})
	}
	subscriptions := []struct {
		filter string
		ok     bool
	}{
		{"home/litter/1/#", true},
		{"home/litter/1/raw", true},
		{"home/litter/2", false},
		{"#", false},
		{"home/+/1/raw", false}, // would match its own and others'
	}
	for _, tt := range subscriptions {
		t.Run("subscribe "+tt.filter, func(t *testing.T) {
			c := mqtttest.Client(t, url, tt.filter, func(o *paho.ClientOptions) { o.SetUsername("box-1").SetPassword("fern") })
			token := c.Subscribe(tt.filter, 1, func(paho.Client, paho.Message) {}).(*paho.SubscribeToken)
			if !token.WaitTimeout(mqtttest.Patience) {
				t.Fatal("no answer")
			}
			if ok := token.Error() == nil && token.Result()[tt.filter] < 0x80; ok != tt.ok {
				t.Errorf("subscribed: %v (%v)", ok, token.Error())
			}
		})
	}
}
