package main

import (
	"fmt"
	"time"

	"github.com/alecthomas/kong"
	mangokong "github.com/alecthomas/mango-kong"
	"github.com/muesli/roff"
)

// released is the day of a release, as 2026-11-25, set when one is built.
var released = ""

// manCmd prints the manual page, from the commands themselves.
type manCmd struct{}

func (manCmd) Run(k *kong.Kong, t terminal) error {
	day, err := time.Parse(time.DateOnly, released)
	if err != nil {
		day = time.Now()
	}
	_, err = fmt.Fprint(t.out, mangokong.NewManPage(1, k.Model).Build(dated{roff.NewDocument(), day}))
	return err
}

// dated is a page with a day of its own, so that the same program makes the same page.
type dated struct {
	*roff.Document
	day time.Time
}

func (d dated) Heading(section uint, title, description string, _ time.Time) {
	d.Document.Heading(section, title, description, d.day)
}
