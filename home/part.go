package home

import "slices"

// Part names something that a person looks at during a home check.
type Part string

// The parts of a home check. The places at which lymph nodes can be felt are
// those of the University of Guelph's open textbook VETM3430.
const (
	Alertness  Part = "alertness"
	Posture    Part = "posture"
	Gait       Part = "gait"
	BreathLook Part = "breathing" // how it breathes; how often is a count
	Coat       Part = "coat"
	BodyScore  Part = "body-condition"   // 1 to 9
	Muscle     Part = "muscle-condition" // along the spine, over shoulders, skull and hips
	Gums       Part = "gum-colour"
	RedLine    Part = "red-line" // where teeth and gums meet
	Refill     Part = "refill"   // until a pressed gum is pink again, s
	Eyes       Part = "eyes"
	Ears       Part = "ears"
	Nose       Part = "nose"
	NodeJaw    Part = "node-jaw" // mm across
	NodeFront  Part = "node-shoulder"
	NodeKnee   Part = "node-knee"
	Mammary    Part = "mammary-chain"
	UnderTail  Part = "under-the-tail"
	Appetite   Part = "appetite"
	Drinking   Part = "drinking"
	Urine      Part = "urine"
	Stool      Part = "stool"
	Vomiting   Part = "vomiting"
	Behaviour  Part = "behaviour"

	// The five features of a pain face, each 0 to 2 (Evangelista et al. 2019,
	// Sci Rep 9:19128).
	FaceEars     Part = "face-ears"
	FaceEyes     Part = "face-eyes"
	FaceMuzzle   Part = "face-muzzle"
	FaceWhiskers Part = "face-whiskers"
	FaceHead     Part = "face-head"
)

// Usual is the value of a part that was as it always is for this cat.
const Usual = "as-usual"

// PartTrait is what is fixed about a part.
type PartTrait struct {
	Values  []string // besides Usual; more than one may hold at once, see Many
	Many    bool     // several values may hold at once
	Sides   bool     // asked for left and right
	Unit    string   // UCUM unit of its number, "" where it has none
	Min     float64  // of the number
	Max     float64
	Whole   bool // the number is a score: whole, and all there is
	NoUsual bool // Usual would say nothing
}

var partTraits = map[Part]PartTrait{
	Alertness:  {Values: []string{"quieter", "restless", "dull", "cannot-be-roused"}},
	Posture:    {Values: []string{"hunched", "crouched", "stretched-neck", "head-tilted"}, Many: true},
	Gait:       {Values: []string{"stiff", "limping", "wobbly", "will-not-jump", "drags-hind-legs"}, Many: true},
	BreathLook: {Values: []string{"noisy", "coughing", "hard-work", "open-mouth"}, Many: true},
	Coat:       {Values: []string{"dull", "matted", "thin-patches", "scabs", "greasy"}, Many: true},
	BodyScore:  {Unit: "{score}", Min: 1, Max: 9, Whole: true},
	Muscle:     {Values: []string{"normal", "mild-loss", "moderate-loss", "severe-loss"}},
	Gums:       {Values: []string{"pink", "pale", "red", "yellow", "dark-spotted", "white", "blue", "grey"}},
	RedLine:    {Values: []string{"none", "some-teeth", "most-teeth", "sore"}, Many: true},
	Refill:     {Values: []string{"under-one-second", "one-to-two-seconds", "over-two-seconds"}, Unit: "s", Min: 0, Max: 15},
	Eyes:       {Values: []string{"clear", "watery", "sticky", "red", "squinting", "cloudy", "third-lid-shows", "pupil-wide", "pupil-narrow"}, Many: true, Sides: true},
	Ears:       {Values: []string{"clean", "dark-wax", "smelly", "red", "scratched", "sore"}, Many: true, Sides: true},
	Nose:       {Values: []string{"clean", "runny", "sticky", "blood", "sneezing", "crusts"}, Many: true},
	NodeJaw:    {Values: []string{"not-felt", "soft", "firm", "sore"}, Many: true, Sides: true, Unit: "mm", Min: 1, Max: 100},
	NodeFront:  {Values: []string{"not-felt", "soft", "firm", "sore"}, Many: true, Sides: true, Unit: "mm", Min: 1, Max: 100},
	NodeKnee:   {Values: []string{"not-felt", "soft", "firm", "sore"}, Many: true, Sides: true, Unit: "mm", Min: 1, Max: 100},
	Mammary:    {Values: []string{"nothing-felt", "lump", "swollen", "sore", "wet"}, Many: true, Sides: true},
	UnderTail:  {Values: []string{"clean", "soiled", "red", "swollen", "wet", "blood", "worms"}, Many: true},
	Appetite:   {Values: []string{"more", "less", "picky", "drops-food", "nothing"}, Many: true},
	Drinking:   {Values: []string{"more", "less", "not-seen"}},
	Urine: {Values: []string{"more-often", "less-often", "bigger-clumps", "smaller-clumps", "blood", "outside-the-box", "cries", "none-seen", "strains-nothing-comes"},
		Many: true},
	Stool:     {Values: []string{"none-seen", "hard", "soft", "liquid", "blood", "mucus", "outside-the-box", "strains"}, Many: true},
	Vomiting:  {Values: []string{"none", "once", "several-times", "hairball", "blood"}, Many: true},
	Behaviour: {Values: []string{"hides", "clingy", "irritable", "cries-at-night", "grooms-less", "grooms-more", "plays-less", "seems-lost"}, Many: true},

	FaceEars: faceTrait, FaceEyes: faceTrait, FaceMuzzle: faceTrait, FaceWhiskers: faceTrait, FaceHead: faceTrait,
}

var faceTrait = PartTrait{Unit: "{score}", Min: 0, Max: 2, Whole: true, NoUsual: true}

// Parts lists every part in the order of the body, as a form asks for them.
func Parts() []Part {
	return []Part{
		Alertness, Posture, Gait, BreathLook, Coat, BodyScore, Muscle, Gums, RedLine, Refill, Eyes, Ears, Nose,
		NodeJaw, NodeFront, NodeKnee, Mammary, UnderTail, Appetite, Drinking, Urine, Stool, Vomiting, Behaviour,
		FaceEars, FaceEyes, FaceMuzzle, FaceWhiskers, FaceHead,
	}
}

// FaceParts lists the features of a pain face.
func FaceParts() []Part { return []Part{FaceEars, FaceEyes, FaceMuzzle, FaceWhiskers, FaceHead} }

// Trait is what is fixed about p; false for an unknown part.
func (p Part) Trait() (PartTrait, bool) {
	t, ok := partTraits[p]
	t.Values = slices.Clone(t.Values)
	return t, ok
}

// Side is one side of the body, seen from the cat.
type Side string

// The sides. The empty one is neither, or both alike.
const (
	Left  Side = "left"
	Right Side = "right"
)

// ParseSide returns the side named s; the empty string is no side.
func ParseSide(s string) (Side, bool) {
	return Side(s), s == "" || s == string(Left) || s == string(Right)
}
