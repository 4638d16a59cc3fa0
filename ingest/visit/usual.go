package visit

import "math"

// usual remembers the masses of good long stays, so that a short one can be told
// from a look with the front paws, and two cats from one.
type usual struct {
	G    [usualMany]float64 // a ring, g
	Next int
	N    int
	Lo   float64 // the lightest and heaviest mass seen at least twice, 0 for none
	Hi   float64
}

const (
	usualMany = 64
	alike     = 0.035 // masses closer than this may be one cat's on two days
)

func (u *usual) add(g float64) {
	u.G[u.Next] = g
	u.Next = (u.Next + 1) % usualMany
	u.N = min(u.N+1, usualMany)
	u.Lo, u.Hi = 0, 0
	for _, v := range u.G[:u.N] {
		if u.like(v) < 2 {
			continue
		}
		if u.Lo == 0 || v < u.Lo {
			u.Lo = v
		}
		u.Hi = math.Max(u.Hi, v)
	}
}

// like counts the remembered masses near g.
func (u *usual) like(g float64) int {
	n := 0
	for _, v := range u.G[:u.N] {
		if math.Abs(v-g) <= alike*g {
			n++
		}
	}
	return n
}

// knows reports whether g is a mass seen before: twice, or once while few were.
func (u *usual) knows(g float64) bool { return u.like(g) >= 2 || !u.ripe() && u.like(g) >= 1 }

// ripe reports whether the memory is long enough for "not seen" to mean much.
func (u *usual) ripe() bool { return u.N >= 8 }
