package simulator

import "math"

// plate is the mechanics of a scale: a damped spring that carries what stands
// on it, d²y/dt² + 2ζω·dy/dt + ω²y = ω²u, and a cell that gives way slowly.
type plate struct {
	static         float64 // kg that stay: box, litter, what was left
	y, v           float64 // what the spring shows in kg, and its speed
	creep          float64 // kg that the cell has given way
	creeps         bool
	dries          float64 // kg that go off into the air, a second
	dt             float64
	yy, yv, vy, vv float64 // exact transition of (y-u, v) over dt
	creepKeep      float64
}

// Creep of a cell: two parts in a thousand of the load, with a memory of 40 s.
// The order of size of cheap cells (0.02 to 0.2 % of the load; common practice,
// no published source).
const (
	creepPart = 0.002
	creepTime = 40.0
)

func newPlate(dev Device, creeps bool, dt, static, dries float64) *plate {
	p := &plate{static: static, dries: dries, y: static, creep: creepPart * static, creeps: creeps, dt: dt}
	w, z := 2*math.Pi*dev.SwingHz, dev.Damping
	wd := w * math.Sqrt(1-z*z)
	fade := math.Exp(-z * w * dt)
	sin, cos := math.Sincos(wd * dt)
	p.yy, p.yv = fade*(cos+z*w/wd*sin), fade*sin/wd
	p.vy, p.vv = -fade*w*w/wd*sin, fade*(cos-z*w/wd*sin)
	p.creepKeep = math.Exp(-dt / creepTime)
	return p
}

// step moves time on by dt under a force of u kg.
func (p *plate) step(u float64) {
	p.static -= p.dries * p.dt
	e := p.y - u
	p.y, p.v = u+p.yy*e+p.yv*p.v, p.vy*e+p.vv*p.v
	p.creep = creepPart*u + (p.creep-creepPart*u)*p.creepKeep
}

// rest lets s seconds pass with nobody there: the swing dies at once, the cell
// comes back as slowly as ever.
func (p *plate) rest(s float64) {
	p.static -= p.dries * s
	p.y, p.v = p.static, 0
	p.creep = creepPart*p.static + (p.creep-creepPart*p.static)*math.Exp(-s/creepTime)
}

// shows is what the cell tells, in kg.
func (p *plate) shows() float64 {
	if !p.creeps {
		return p.y
	}
	return p.y*(1-creepPart) + p.creep
}
