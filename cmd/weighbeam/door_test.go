package main

import (
	"bytes"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// once runs a command of the program to its end.
func once(t *testing.T, stdin string, args ...string) (out string, code int) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), programPath(t), args...)
	cmd.Env, cmd.Dir = append(os.Environ(), "WEIGHBEAM_BE_THE_PROGRAM=1"), t.TempDir()
	var stdout, stderr bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(stdin), &stdout, &stderr
	err := cmd.Run()
	if err != nil && cmd.ProcessState == nil {
		t.Fatal(err)
	}
	if err != nil {
		return stdout.String() + stderr.String(), cmd.ProcessState.ExitCode()
	}
	return stdout.String(), 0
}

// certificate writes a certificate and its key, and returns a client that trusts it.
func certificate(t *testing.T) (cert, key string, client *http.Client) {
	t.Helper()
	srv := httptest.NewTLSServer(http.NotFoundHandler())
	t.Cleanup(srv.Close)
	pair := srv.TLS.Certificates[0]
	secret, err := x509.MarshalPKCS8PrivateKey(pair.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	cert = write(t, "cert.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: pair.Certificate[0]})))
	key = write(t, "key.pem", string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})))
	client = srv.Client()
	if client.Jar, err = cookiejar.New(nil); err != nil {
		t.Fatal(err)
	}
	client.Timeout = 30 * time.Second
	return cert, key, client
}

// Open to the house with TLS and a password: the pages show nothing before one
// has signed in, and whoever has stays so over a kill.
func TestServe_Door_OverTLS(t *testing.T) {
	hash, code := once(t, "sixteen tabby paws\n", "password")
	if code != 0 || !strings.HasPrefix(hash, "$argon2id$") {
		t.Fatalf("password: %d, %s", code, hash)
	}
	cert, key, client := certificate(t)
	settings := write(t, "weighbeam.toml", fmt.Sprintf(`data = %q
listen = "0.0.0.0:%d"
[broker]
listen = "127.0.0.1:0"
[door]
cert_file = %q
key_file = %q
[[door.person]]
name = "ada"
password_file = %q
`, t.TempDir()+"/house.db", port(t), cert, key, write(t, "ada.hash", hash)))
	p := launch(t, "serve", "--config", settings)
	at := strings.Replace(p.pages(), "[::]", "127.0.0.1", 1)
	seen := func() string {
		t.Helper()
		resp, err := client.Get(at + "/")
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		return resp.Request.URL.Path
	}
	if got := seen(); got != "/login" {
		t.Fatalf("a stranger sees %s at %s", got, at)
	}
	resp, err := client.PostForm(at+"/login", url.Values{"name": {"ada"}, "password": {"sixteen tabby paws"}, "to": {"/"}})
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if got := seen(); got != "/" {
		t.Fatalf("ada sees %s", got)
	}
	p.kill()
	launch(t, "serve", "--config", settings).pages()
	if got := seen(); got != "/" {
		t.Errorf("after a kill ada sees %s", got)
	}
}

// Open to the house without a password, the program does not start, and says what
// to do; the same for a check of the settings.
func TestServe_OpenWithoutPassword_DoesNotStart(t *testing.T) {
	settings := write(t, "weighbeam.toml", "listen = \"0.0.0.0:0\"\n")
	for _, args := range [][]string{{"serve", "--config", settings}, {"serve", "--config", settings, "--check"}} {
		out, code := once(t, "", args...)
		if code == 0 || !strings.Contains(out, "no password") || !strings.Contains(out, "weighbeam password") {
			t.Errorf("%v: %d\n%s", args, code, out)
		}
	}
}

// A token's hash is enough for the program, and the token is shown once.
func TestToken_HashIsEnough(t *testing.T) {
	token, code := once(t, "", "token")
	if code != 0 || len(strings.TrimSpace(token)) < 26 {
		t.Fatalf("%d: %s", code, token)
	}
	other, _ := once(t, "", "token")
	if token == other {
		t.Error("two tokens are the same")
	}
}
