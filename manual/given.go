package manual

import (
	"slices"
	"strconv"

	"weighbeam/home"
)

// What was fed and given is filled in row by row: "given-0.what".
const givenPrefix = "given-"

// givenRows is how many rows the form has; more go into another check.
const givenRows = 3

func givenField(row int, what string) string {
	return givenPrefix + strconv.Itoa(row) + "." + what
}

func (f *form) given() {
	for row := range givenRows {
		at := func(what string) string { return givenField(row, what) }
		g := home.Given{Kind: home.GivenKind(f.get(at("kind"))), What: f.get(at("what")), Amount: f.get(at("amount")), Taken: home.Taken(f.get(at("taken")))}
		if g.What == "" && g.Amount == "" && g.Taken == "" {
			continue
		}
		switch {
		case g.What == "":
			f.fail(at("what"), msgGiven)
		case len(g.What) > 200 || len(g.Amount) > 200:
			f.fail(at("what"), msgGivenLong)
		case !slices.Contains(home.GivenKinds(), g.Kind):
			f.fail(at("kind"), msgKind)
		case g.Taken != "" && !slices.Contains(home.Takens(), g.Taken):
			f.fail(at("taken"), msgKind)
		default:
			f.check.Given = append(f.check.Given, g)
		}
	}
}
