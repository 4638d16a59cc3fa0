package main

import (
	"os"

	"weighbeam/notify/shout"
)

// carryCmd is what the program runs itself as to hand one message to a service:
// the library that speaks to it can neither hang nor leak into the program then.
type carryCmd struct{}

func (carryCmd) Run(t terminal) error {
	return shout.Carry(os.Stdin, t.out)
}
