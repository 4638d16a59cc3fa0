package watch

import (
	"slices"
	"time"

	"weighbeam/home"
)

// scaleWatch looks, now and then, whether something is wrong with one scale. A look
// is at what is known then; nothing is made again when readings come late.
type scaleWatch interface {
	comparable
	Stand(f home.Finding)
	Leave(now time.Time) []home.Transition
}

// perScale holds one watch of a kind for each scale of the household.
type perScale[W scaleWatch] struct {
	sign home.Sign
	anew func(scale string) W
	of   map[string]W
	ids  []string // in order
	left []W      // of scales that are gone
}

// set says which scales there are.
func (p *perScale[W]) set(scales []home.Scale) {
	old := p.of
	p.of, p.ids = map[string]W{}, nil
	for _, s := range scales {
		watch, known := old[s.ID]
		if !known {
			watch = p.anew(s.ID)
		}
		p.of[s.ID], p.ids = watch, append(p.ids, s.ID)
		delete(old, s.ID)
	}
	slices.Sort(p.ids)
	for _, gone := range old {
		p.left = append(p.left, gone)
	}
}

// restore makes a finding that was told stand, also of a scale that is gone, for the next
// leave; false for one that is not of this kind.
func (p *perScale[W]) restore(f home.Finding) bool {
	if f.Sign != p.sign {
		return false
	}
	watch, known := p.of[f.Source]
	if !known {
		watch = p.anew(f.Source)
		p.left = append(p.left, watch)
	}
	watch.Stand(f)
	return true
}

// leave closes what stands of scales that are gone.
func (p *perScale[W]) leave(now time.Time) []home.Transition {
	var turned []home.Transition
	for _, gone := range p.left {
		turned = append(turned, gone.Leave(now)...)
	}
	p.left = nil
	return turned
}
