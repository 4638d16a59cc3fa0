package app

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/notify"
)

// A notice to a topic of a broker met over TLS shows the certificate of the settings,
// and trusts the authority that they name.
func TestConfig_Publisher_OverTLS(t *testing.T) {
	made := httptest.NewUnstartedServer(nil)
	made.StartTLS() // for its certificate
	defer made.Close()
	own := made.TLS.Certificates[0]
	listener, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{own}, ClientAuth: tls.RequireAnyClientCert})
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	key, err := x509.MarshalPKCS8PrivateKey(own.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := func(name, kind string, der []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	certificate := file("own.crt", "CERTIFICATE", own.Certificate[0])
	c := Config{MQTT: &MQTTConfig{Server: "mqtts://" + listener.Addr().String(), CAFile: certificate, CertFile: certificate, KeyFile: file("own.key", "PRIVATE KEY", key)}}
	transport, err := c.publisherFrom(TopicEntry{Topic: "home/notices"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	met := make(chan int, 1)
	go func() {
		defer cancel() // that is all that is answered
		conn, err := listener.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		if err := conn.(*tls.Conn).HandshakeContext(ctx); err == nil {
			met <- len(conn.(*tls.Conn).ConnectionState().PeerCertificates)
		}
	}()
	_ = transport.Send(ctx, notify.Message{}) // there is no broker behind it
	select {
	case n := <-met:
		if n != 1 {
			t.Errorf("%d certificates were shown", n)
		}
	default:
		t.Error("the two do not trust each other")
	}
}
