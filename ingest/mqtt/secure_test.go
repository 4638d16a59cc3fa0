package mqtt_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/mqtt/mqtttest"
)

// startWithPassword starts mosquitto with the user "house" and the password "right".
func startWithPassword(t *testing.T) *mqtttest.Mosquitto {
	t.Helper()
	file := filepath.Join(t.TempDir(), "passwords")
	out, err := exec.Command(mqtttest.Need(t, "mosquitto_passwd"), "-b", "-c", file, "house", "right").CombinedOutput()
	if err != nil {
		t.Fatalf("mosquitto_passwd: %v: %s", err, out)
	}
	return mqtttest.Start(t, "allow_anonymous false", "password_file "+file)
}

// authority is a certificate authority of one test.
type authority struct {
	t    *testing.T
	dir  string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func newAuthority(t *testing.T, name string) *authority {
	a := &authority{t: t, dir: t.TempDir()}
	a.cert, a.key = a.sign(name, &x509.Certificate{IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign})
	return a
}

func (a *authority) path(name, kind string) string { return filepath.Join(a.dir, name+"."+kind) }

// sign makes a certificate and writes it and its key as PEM files.
func (a *authority) sign(name string, c *x509.Certificate) (*x509.Certificate, *ecdsa.PrivateKey) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.t.Fatal(err)
	}
	c.SerialNumber, c.Subject = big.NewInt(time.Now().UnixNano()), pkix.Name{CommonName: name}
	c.NotBefore, c.NotAfter = time.Now().Add(-time.Hour), time.Now().Add(time.Hour)
	parent, signer := a.cert, a.key
	if parent == nil {
		parent, signer = c, key
	}
	der, err := x509.CreateCertificate(rand.Reader, c, parent, &key.PublicKey, signer)
	if err != nil {
		a.t.Fatal(err)
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		a.t.Fatal(err)
	}
	for kind, block := range map[string]*pem.Block{"crt": {Type: "CERTIFICATE", Bytes: der}, "key": {Type: "PRIVATE KEY", Bytes: keyDER}} {
		if err := os.WriteFile(a.path(name, kind), pem.EncodeToMemory(block), 0o600); err != nil {
			a.t.Fatal(err)
		}
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		a.t.Fatal(err)
	}
	return cert, key
}

func (a *authority) files(name string) mqtt.Files {
	return mqtt.Files{CA: a.path("authority", "crt"), Cert: a.path(name, "crt"), Key: a.path(name, "key")}
}

// TLS with an authority of one's own and a certificate for the client: the right
// one gets in, one from another authority and none at all do not, and a broker that
// the authority does not vouch for is not spoken to.
func TestSession_Run_TLS(t *testing.T) {
	ours, other := newAuthority(t, "authority"), newAuthority(t, "authority")
	ours.sign("broker", &x509.Certificate{IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}})
	client := &x509.Certificate{ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth}}
	ours.sign("house", client)
	other.sign("stranger", client)
	m := mqtttest.Start(t, "cafile "+ours.path("authority", "crt"), "certfile "+ours.path("broker", "crt"),
		"keyfile "+ours.path("broker", "key"), "require_certificate true", "use_identity_as_username true")

	cfg := config("ssl://" + m.Addr())
	tests := []struct {
		name  string
		files mqtt.Files
		why   string // part of the error, "" for none
	}{
		{"right", ours.files("house"), ""},
		{"no client certificate", mqtt.Files{CA: ours.path("authority", "crt")}, ""},
		{"stranger", mqtt.Files{CA: ours.path("authority", "crt"), Cert: other.path("stranger", "crt"), Key: other.path("stranger", "key")}, ""},
		{"broker not vouched for", mqtt.Files{CA: other.path("authority", "crt")}, "certificate"},
		{"no authority", mqtt.Files{}, "certificate"},
	}
	for i, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			cfg.TLS = tt.files
			session, _ := run(t, cfg, &sink{room: -1})
			if i == 0 {
				connected(t, session)
				return
			}
			mqtttest.Until(t, "the refusal", func() bool { return session.Health().Error != "" })
			if h := session.Health(); h.Connects > 0 || !strings.Contains(h.Error, tt.why) {
				t.Errorf("%+v", h)
			}
		})
	}
	if _, err := mqtt.New(mqtt.Config{Broker: cfg.Broker, ClientID: "x", TLS: mqtt.Files{Cert: ours.path("house", "crt")}}, &sink{}); err == nil {
		t.Error("a certificate without its key is taken")
	}
}
