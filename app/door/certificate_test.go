package door

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"os"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/home"
)

// putPair writes a certificate with that serial number, and its key.
func putPair(t *testing.T, cert, key string, serial int64) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := x509.Certificate{SerialNumber: big.NewInt(serial), NotAfter: time.Now().Add(time.Hour), DNSNames: []string{"cats.lan"}}
	der, err := x509.CreateCertificate(rand.Reader, &template, &template, private.Public(), private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func serial(t *testing.T, c *Certificate) int64 {
	t.Helper()
	pair, err := c.Config().GetCertificate(&tls.ClientHelloInfo{})
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(pair.Certificate[0])
	if err != nil {
		t.Fatal(err)
	}
	return leaf.SerialNumber.Int64()
}

// A renewed certificate is served without a restart, and one that is half written
// does not take the pages away.
func TestCertificate_IsReadAgain(t *testing.T) {
	dir := t.TempDir()
	cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	if _, err := NewCertificate(cert, key); err == nil || home.Hint(err) == "" {
		t.Errorf("no files: %v", err)
	}
	putPair(t, cert, key, 1)
	c, err := NewCertificate(cert, key)
	if err != nil {
		t.Fatal(err)
	}
	if got := serial(t, c); got != 1 {
		t.Errorf("served %d", got)
	}
	later := time.Now().Add(time.Minute)
	for _, step := range []struct {
		write func()
		want  int64
	}{
		{func() { os.WriteFile(cert, []byte("half"), 0o600) }, 1},
		{func() { putPair(t, cert, key, 2) }, 2},
	} {
		step.write()
		later = later.Add(time.Minute)
		if err := os.Chtimes(cert, later, later); err != nil {
			t.Fatal(err)
		}
		c.asked = time.Time{} // ten seconds have passed
		if got := serial(t, c); got != step.want {
			t.Errorf("served %d, want %d", got, step.want)
		}
	}
}
