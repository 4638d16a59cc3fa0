package command

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"weighbeam/notify"
)

// The test binary plays the program that is run: it does what its arguments say.
func TestMain(m *testing.M) {
	if len(os.Args) == 4 && os.Args[1] == "play" {
		play(os.Args[2], os.Args[3])
	}
	os.Exit(m.Run())
}

func play(part, arg string) {
	switch part {
	case "keep":
		f, err := os.Create(arg)
		if err == nil {
			_, err = f.ReadFrom(os.Stdin)
		}
		if err != nil {
			os.Exit(1)
		}
		os.Exit(0)
	case "exit":
		println("planted-secret")
		code, _ := strconv.Atoi(arg)
		os.Exit(code)
	case "hang":
		time.Sleep(time.Hour)
	}
}

func player(t *testing.T, part, arg string) *Command {
	t.Helper()
	c, err := New([]string{os.Args[0], "play", part, arg})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestCommand_Send_Delivers(t *testing.T) {
	path := filepath.Join(t.TempDir(), "got")
	want := notify.Trial("bell", time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC))
	if err := player(t, "keep", path).Send(t.Context(), want); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var got notify.Message
	if err := json.Unmarshal(b, &got); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, %v", got, err)
	}
}

func TestCommand_Send_Fails(t *testing.T) {
	tests := []struct {
		part, arg string
		retry     bool
		want      string
	}{
		// A program without network today may have it tomorrow.
		{"exit", "1", true, "code 1"},
		{"exit", "75", true, "code 75"},
		// It says that it never will.
		{"exit", "65", false, "code 65"},
		// It is ended at the deadline.
		{"hang", "", true, "did not end in time"},
	}
	for _, tt := range tests {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		err := player(t, tt.part, tt.arg).Send(ctx, notify.Trial("bell", time.Now()))
		cancel()
		var f *notify.Failure
		if !errors.As(err, &f) || f.Retry != tt.retry || !strings.Contains(f.Why, tt.want) || strings.Contains(f.Why, "planted") {
			t.Errorf("%s %s: %v", tt.part, tt.arg, err)
		}
	}
}

func TestNew_Refuses(t *testing.T) {
	for _, argv := range [][]string{nil, {""}, {"no-such-program-here"}, {"/"}} {
		if c, err := New(argv); err == nil {
			t.Errorf("%q is taken: %v", argv, c)
		}
	}
}
