package app

import (
	"context"
	"strings"

	"weighbeam/home"
	"weighbeam/store"
)

// strangers looks who is heard of and is not in the household. That the household or the
// store cannot be read was said already.
func (v *verifier) strangers(ctx context.Context) {
	const part = "strangers"
	h, err := v.living(ctx)
	if err != nil {
		return
	}
	db, err := store.Peek(ctx, v.cfg.Data)
	if err != nil {
		return
	}
	defer db.Close()
	sources, err := db.Sources(ctx)
	if err != nil {
		return
	}
	named, err := db.NamedCats(ctx, h, v.now.Add(-home.StrangerFor))
	if err != nil {
		return
	}
	var who []string
	scales, cats := h.Strangers(sources, named, v.now)
	for _, s := range scales {
		who = append(who, "scale "+s.Source)
	}
	for _, c := range cats {
		who = append(who, "cat "+c.Cat+" (named by "+c.Source+")")
	}
	if len(who) == 0 {
		v.say(part, Well, "", "Everybody who was heard of lately is in the household.")
		return
	}
	v.say(part, Look, "Add who belongs to the household, or mend what sends it.",
		"Not in the household: %s. What such a scale weighs counts for the cats of this house; what names such a cat counts once it lives here.", strings.Join(who, ", "))
}
