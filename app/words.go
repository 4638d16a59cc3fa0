package app

import (
	"context"
	"os"

	"weighbeam/home"
	"weighbeam/manual"
)

// formWords are the words of the home check: English, unless the settings name a
// file.
func (c Config) formWords() (manual.Words, error) {
	if c.Words == "" {
		return manual.Words{}, nil
	}
	text, err := os.ReadFile(c.Words)
	if err != nil {
		return manual.Words{}, &home.Error{Op: "read the words of the home check", Err: err, Hint: "Correct the key words in the settings, or leave it out: it is English then."}
	}
	w, err := manual.ParseWords(text)
	if err != nil {
		return w, atFile(c.Words, err)
	}
	return w, nil
}

func (v *verifier) words(context.Context) {
	const part = "words"
	if v.cfg.Words == "" {
		return
	}
	if _, err := v.cfg.formWords(); err != nil {
		v.fail(part, err, "Correct the file.")
		return
	}
	v.say(part, Well, "", "The home check speaks the words of %s.", v.cfg.Words)
}
