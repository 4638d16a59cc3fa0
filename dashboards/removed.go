package dashboards

import (
	"slices"

	"weighbeam/home"
)

// removed says in words what of was is not in to: it stops being watched, weighed or told.
func removed(was, to home.Household) []string {
	var words []string
	for _, c := range was.Cats {
		if _, stays := to.Cat(c.ID); !stays {
			words = append(words, "the cat "+c.Name)
		}
	}
	for _, s := range was.Scales {
		if _, stays := to.Scale(s.ID); !stays {
			words = append(words, "the scale "+s.ID)
		}
	}
	for _, c := range was.Contacts {
		if !slices.ContainsFunc(to.Contacts, func(o home.Contact) bool { return o.ID == c.ID }) {
			words = append(words, "the contact "+c.ID+", with any password kept for it")
		}
	}
	return words
}
