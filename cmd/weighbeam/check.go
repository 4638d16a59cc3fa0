package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"weighbeam/app"
	"weighbeam/home"
)

type checkCmd struct {
	Cat string `arg:"" optional:"" help:"The cat, by its id."`

	Weight  string `help:"What the scale showed with the cat alone on it." placeholder:"MASS"`
	With    string `help:"What it showed with a person who holds the cat." placeholder:"MASS"`
	Without string `help:"What it showed with the person alone." placeholder:"MASS"`
	Step    string `help:"Step of the scale; without it, that of the digits given." placeholder:"MASS"`
	Unit    string `help:"Of the masses: kg or lb." default:"kg"`

	Breaths string `help:"Breaths and over how many seconds." placeholder:"11/30"`
	Beats   string `help:"Heart beats and over how many seconds." placeholder:"42/15"`
	State   string `help:"How the cat was while they were counted: asleep, resting, active or clinic." placeholder:"STATE"`

	Seen    []string       `help:"What was seen of a part of the cat; again for the next. A score is a number." placeholder:"PART[:SIDE]=WORD,WORD" sep:"none"`
	RedFlag []home.RedFlag `help:"A sign that cannot wait: ${flags}." placeholder:"SIGN"`
	Note    string         `help:"Anything else." placeholder:"TEXT"`
	By      string         `help:"Who looked." placeholder:"NAME"`
	At      string         `help:"When it was, RFC 3339; without it, now." placeholder:"TIME"`

	File string `help:"The whole check as JSON, in place of the above; - reads standard input." placeholder:"FILE"`

	Config    string `help:"Settings of the running program." type:"path" placeholder:"FILE"`
	URL       string `help:"Its pages; without it, those that the settings name." placeholder:"URL"`
	TokenFile string `help:"File with the token of a device that may send for \"hand\"." type:"existingfile" placeholder:"FILE"`
	JSON      bool   `help:"The answer as one JSON object."`
}

// Run hands one home check to the running program. What cannot wait is said before
// anything is tried.
func (c checkCmd) Run(ctx context.Context, t terminal) error {
	cfg, err := listenCmd{where: where{Config: c.Config}}.settings()
	flags := c.flags()
	if len(flags) > 0 { // whatever is wrong with the settings or the rest of the call
		fmt.Fprintln(t.err, app.GoNow(cfg, flags))
	}
	if err != nil {
		return err
	}
	body, wrong := c.body(time.Now())
	if wrong != nil && (len(flags) == 0 || c.Cat == "") {
		return wrong
	}
	if wrong != nil { // the red flag is kept, and what else was typed as it is
		if body, err = c.bare(time.Now(), wrong); err != nil {
			return err
		}
	}
	token, err := tokenOf(c.TokenFile)
	if err != nil {
		return err
	}
	url := c.URL
	if url == "" {
		url = "http://" + cfg.Listen.String()
	}
	answer, err := app.PostCheck(ctx, url, token, body)
	if err != nil {
		return err
	}
	if c.JSON {
		return firstError(wrong, json.NewEncoder(t.out).Encode(answer))
	}
	if len(flags) == 0 && answer.Now != "" { // a part that was seen is such a sign
		fmt.Fprintln(t.err, answer.Now)
	}
	said := "Stored"
	if answer.Duplicate {
		said = "Stored before"
	}
	_, err = fmt.Fprintf(t.out, "%s, as %s.\n", said, answer.ID)
	return firstError(wrong, err)
}

// bare is a check of its red flags, with all else as a note.
func (c checkCmd) bare(now time.Time, wrong error) ([]byte, error) {
	typed := strings.Join(append([]string{c.Note, "weight", c.Weight, c.With, c.Without, c.Unit, "breaths", c.Breaths, "beats", c.Beats, c.State, c.At}, c.Seen...), " ")
	return json.Marshal(map[string]any{"id": uuid.NewString(), "cat": c.Cat, "time": now, "by": c.By, "red_flags": c.RedFlag,
		"note": fmt.Sprintf("%s (not understood: %v)", strings.Join(strings.Fields(typed), " "), wrong)})
}

// tokenOf is the token in a file; empty where no file is named.
func tokenOf(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	text, err := os.ReadFile(path)
	return strings.TrimSpace(string(text)), err
}

// body is the check as JSON.
func (c checkCmd) body(now time.Time) ([]byte, error) {
	const op = "check"
	switch {
	case c.File == "-":
		return io.ReadAll(os.Stdin)
	case c.File != "":
		return os.ReadFile(c.File)
	case c.Cat == "":
		return nil, home.Hinted(op, "weighbeam check CAT --weight 4.31, for one.", "it is not said which cat")
	}
	at := now
	if c.At != "" {
		var err error
		if at, err = time.Parse(time.RFC3339, c.At); err != nil {
			return nil, home.Hinted(op, "Write 2025-03-31T08:00:00Z.", "--at %q is no time", c.At)
		}
	}
	check := map[string]any{"id": uuid.NewString(), "cat": c.Cat, "time": at, "by": c.By, "note": c.Note, "red_flags": c.RedFlag}
	return c.filled(check)
}

// filled is check with what was measured and seen.
func (c checkCmd) filled(check map[string]any) ([]byte, error) {
	const op = "check"
	if c.Weight+c.With+c.Without != "" {
		check["weight"] = c.mass()
	}
	for name, typed := range map[string]string{"breaths": c.Breaths, "heartbeats": c.Beats} {
		if typed == "" {
			continue
		}
		n, window, ok := strings.Cut(typed, "/")
		if !ok {
			return nil, home.Hinted(op, "Write what was counted and the seconds, 11/30 for one.", "%s %q is no count", name, typed)
		}
		check[name] = map[string]any{"count": json.Number(n), "window_s": json.Number(window), "state": c.State}
	}
	var seen []map[string]any
	for _, typed := range c.Seen {
		one, ok := sight(typed)
		if !ok {
			return nil, home.Hinted(op, "Write the part and what was seen, eyes:left=watery for one.", "--seen %q says nothing", typed)
		}
		seen = append(seen, one)
	}
	if len(seen) > 0 {
		check["seen"] = seen
	}
	text, err := json.Marshal(check)
	if err != nil {
		return nil, home.Hinted(op, "Write masses as 4.31, and counts as 11/30.", "a figure is no number: %w", err)
	}
	return text, nil
}

func (c checkCmd) mass() map[string]any {
	mass := map[string]any{"unit": c.Unit}
	if c.Unit == "lb" {
		mass["unit"] = "[lb_av]" // as UCUM calls it
	}
	for name, value := range map[string]string{"value": c.Weight, "with": c.With, "without": c.Without, "step": c.Step} {
		if value != "" {
			mass[name] = json.Number(value)
		}
	}
	return mass
}

// sight is what was seen of a part: "eyes:left=watery,red" or "body-condition=5".
func sight(typed string) (map[string]any, bool) {
	what, said, ok := strings.Cut(typed, "=")
	part, side, _ := strings.Cut(what, ":")
	one := map[string]any{"part": part, "side": side}
	if _, err := strconv.ParseFloat(said, 64); err == nil {
		one["number"] = json.Number(said)
	} else {
		one["values"] = strings.Split(said, ",")
	}
	return one, ok && part != "" && said != ""
}

// flags are the red flags that there are among those given.
func (c checkCmd) flags() []home.RedFlag {
	return slices.DeleteFunc(slices.Clone(c.RedFlag), func(f home.RedFlag) bool { return !slices.Contains(home.RedFlags(), f) })
}

func flagNames() string {
	var names []string
	for _, flag := range home.RedFlags() {
		names = append(names, string(flag))
	}
	return strings.Join(names, ", ")
}
