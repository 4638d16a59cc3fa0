package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"golang.org/x/term"

	"weighbeam/app/door"
	"weighbeam/home"
)

type passwordCmd struct{}

// Run reads a password, twice from a terminal and without showing it, and prints
// what stands for it in the settings.
func (passwordCmd) Run(_ context.Context, t terminal) error {
	password, err := askPassword(t, os.Stdin)
	if err != nil {
		return err
	}
	hash, err := door.Hash(password)
	if err != nil {
		return err
	}
	fmt.Fprintln(t.out, hash)
	return nil
}

func askPassword(t terminal, in *os.File) (string, error) {
	if !term.IsTerminal(int(in.Fd())) {
		line, err := bufio.NewReader(io.LimitReader(in, 4096)).ReadBytes('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", err
		}
		return string(bytes.TrimRight(line, "\r\n")), nil
	}
	var typed [2][]byte
	for i, ask := range []string{"Password: ", "Once more: "} {
		fmt.Fprint(t.err, ask)
		var err error
		typed[i], err = term.ReadPassword(int(in.Fd()))
		fmt.Fprintln(t.err)
		if err != nil {
			return "", err
		}
	}
	if !bytes.Equal(typed[0], typed[1]) {
		return "", home.Hinted("read a password", "Run the command again.", "the two were not the same")
	}
	return string(typed[0]), nil
}

type tokenCmd struct{}

// Run makes a token: the token for the device, its hash for the settings.
func (tokenCmd) Run(t terminal) error {
	token, hash := door.MakeToken()
	fmt.Fprintf(t.out, "%s\n", token)
	fmt.Fprintf(t.err, "That is for the device. For its token_file, this is enough:\n%s\n", hash)
	return nil
}
