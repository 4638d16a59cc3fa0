package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"

	"weighbeam/app"
	"weighbeam/home"
)

type healthyCmd struct {
	Config string `help:"Settings file of the program that runs." type:"existingfile" placeholder:"FILE"`
}

// Run asks the program that runs with the settings whether it is well, for a
// container or a watchdog that has no other way to ask.
func (c healthyCmd) Run(ctx context.Context, t terminal) error {
	cfg, err := app.ParseConfig(nil)
	if c.Config != "" {
		cfg, err = app.ReadConfig(c.Config)
	}
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, 8*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, nearby(cfg)+"/healthz", nil)
	if err != nil {
		return err
	}
	// It is this machine that is asked, by an address that no certificate names.
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	resp, err := client.Do(req)
	if err != nil {
		return &home.Error{Op: "ask whether it is well", Hint: "Start weighbeam serve, or name its settings with --config.", Err: err}
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(io.LimitReader(resp.Body, 1<<20))
	if err != nil {
		return err
	}
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("not well (%s)\n%s", resp.Status, text)
	}
	fmt.Fprintln(t.out, "It is well.")
	return nil
}

// nearby is the address of the pages as this machine reaches them.
func nearby(cfg app.Config) string {
	scheme := "http://"
	if cfg.Door.CertFile != "" {
		scheme = "https://"
	}
	host, port, err := net.SplitHostPort(cfg.Listen.String())
	if err != nil {
		return scheme + cfg.Listen.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
		if ip.To4() == nil {
			host = "::1"
		}
	}
	return scheme + net.JoinHostPort(host, port)
}
