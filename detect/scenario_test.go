package detect

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// A scenario is a plain-text script: what a cat went through, and which finding
// of which urgency must come on which day. Lines, days counted from 0:
//
//	cat born 2014 weight 4.6         what is known of the cat
//	weight 150 4.61                  the true weight, kg, log-linear between such days
//	weigh box-1 2/day 0..400 noise 45g   weighings, a day; source, rate, days, noise
//	round 100g                       later weigh lines are rounded so
//	bias 100g                        later weigh lines are off by so much
//	breaths asleep 30s 0..8 11 10    counts, one a day, the numbers in turn
//	check 12 collapse                a home check and its red flags, if any
//	plan 120..300 5.5                a goal in kg that was agreed for these days
//	until 420                        how long time passes
//
// and those of scenario_care_test.go.
//
//	want weight-falling raised book 210..260
//	want weight-falling worsened today 300..330
//	want weight-falling closed 400..420      without an urgency: of any
//
// Every raise must be wanted, once each: one that is not fails the scenario.
type scenario struct {
	cat         home.Cat
	weights     [][2]float64 // day, kg
	round, bias float64      // kg
	until       int
	rng         *rand.Rand
	seen        []Observation
	wants       []want
}

type want struct {
	sign     home.Sign
	turn     home.Turn
	urgency  home.Urgency
	from, to float64
	met      bool
}

func TestScenarios(t *testing.T) {
	files, err := filepath.Glob("testdata/*.scenario")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d scenarios, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".scenario"), func(t *testing.T) {
			s, err := readScenario(file, 11)
			if err != nil {
				t.Fatal(err)
			}
			turned := s.run()
			for _, tr := range turned {
				t.Logf("day %.1f: %s %s %s: %s %s", tr.At.Sub(epoch).Hours()/24, tr.Finding.Sign, tr.Turn, tr.Finding.Urgency, tr.Finding.Text, tr.Finding.Reason)
			}
			for _, w := range s.wrong(turned) {
				t.Error(w)
			}
		})
	}
}

// What a scenario wants does not rest on the draw of its noise. Of twenty others three may
// end otherwise: in the longest, of 565 days, the budget of false findings alone allows 1.5.
func TestScenarios_OtherSeeds(t *testing.T) {
	files, err := filepath.Glob("testdata/*.scenario")
	if err != nil {
		t.Fatal(err)
	}
	const seeds, most = 20, 3
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".scenario"), func(t *testing.T) {
			failed := 0
			for seed := range uint64(seeds) {
				s, err := readScenario(file, 100+seed)
				if err != nil {
					t.Fatal(err)
				}
				if wrong := s.wrong(s.run()); len(wrong) > 0 {
					failed++
					t.Logf("seed %d: %s", 100+seed, strings.Join(wrong, "; "))
				}
			}
			if failed > most {
				t.Errorf("%d of %d", failed, seeds)
			}
		})
	}
}

func readScenario(file string, seed uint64) (*scenario, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := &scenario{cat: home.Cat{ID: "cat", Name: "Cat"}, rng: rand.New(rand.NewPCG(seed, 13))}
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		line, _, _ := strings.Cut(lines.Text(), "#")
		if words := strings.Fields(line); len(words) > 0 {
			if err := s.line(words); err != nil {
				return nil, fmt.Errorf("%s:%d: %w", file, n, err)
			}
		}
	}
	return s, lines.Err()
}

func (s *scenario) line(w []string) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%v: %v", w, r)
		}
	}()
	switch w[0] {
	case "cat":
		s.cat.Born = time.Date(int(number(w[2])), 1, 1, 0, 0, 0, 0, time.UTC)
		if len(w) > 4 {
			s.cat.WeightKg = number(w[4])
		}
	case "weight":
		s.weights = append(s.weights, [2]float64{number(w[1]), number(w[2])})
	case "weigh":
		s.weigh(w[1], number(strings.TrimSuffix(w[2], "/day")), w[3], number(strings.TrimSuffix(w[5], "g"))/1000)
	case "round":
		s.round = number(strings.TrimSuffix(w[1], "g")) / 1000
	case "bias":
		s.bias = number(strings.TrimSuffix(w[1], "g")) / 1000
	case "breaths":
		s.breaths(home.State(w[1]), w[2], w[3], w[4:])
	case "check":
		c := &home.HomeCheck{ID: w[1], Cat: "cat", Time: dayTime(number(w[1]) + 0.4)}
		for _, f := range w[2:] {
			c.RedFlags = append(c.RedFlags, home.RedFlag(f))
		}
		s.seen = append(s.seen, Observation{Check: c})
	case "eat":
		s.amounts(home.Intake, w[1], w[2], w[3])
	case "drink":
		s.amounts(home.Drunk, w[1], w[2], w[3])
	case "litter":
		s.litter(w[1], w[2], w[3])
	case "heart":
		s.heart(w[1], w[2], w[3], w[4:])
	case "temperature":
		s.hand(home.Reading{Quantity: home.Temperature, Time: dayTime(number(w[1])), Value: number(w[2])})
	case "saw":
		s.saw(number(w[1]), w[2], w[3], w[4:])
	case "lump":
		s.lump(number(w[1]), w[2], w[3], w[4])
	case "care":
		s.care(w[1], w[2], w[3:])
	case "sex":
		s.cat.Sex = w[1]
	case "plan":
		from, to := between(w[1])
		plan := &home.Plan{From: dayTime(from), Until: dayTime(to), TargetKg: number(w[2])}
		s.seen = append(s.seen, Observation{Care: &home.Care{ID: "plan", Cat: "cat", Kind: home.PlanAgreed, From: plan.From, Until: plan.Until, Plan: plan}})
	case "until":
		s.until = int(number(w[1]))
	case "want":
		s.want(w[1:])
	default:
		return fmt.Errorf("unknown line %q", w[0])
	}
	return nil
}

func number(word string) float64 {
	v, err := strconv.ParseFloat(word, 64)
	if err != nil {
		panic(err)
	}
	return v
}

func between(word string) (from, to float64) {
	a, b, _ := strings.Cut(word, "..")
	return number(a), number(b)
}

func dayTime(day float64) time.Time {
	return epoch.Add(time.Duration(day * float64(oneDay))).Truncate(time.Second)
}

func (s *scenario) want(w []string) {
	x := want{sign: home.Sign(w[0]), turn: home.Turn(w[1])}
	if len(w) > 3 {
		x.urgency = home.Urgency(w[2])
	}
	x.from, x.to = between(w[len(w)-1])
	s.wants = append(s.wants, x)
}

// truth is the true weight on a day.
func (s *scenario) truth(day float64) float64 {
	i := slices.IndexFunc(s.weights, func(p [2]float64) bool { return p[0] > day })
	if i < 0 {
		return s.weights[len(s.weights)-1][1]
	}
	if i == 0 {
		return s.weights[0][1]
	}
	a, b := s.weights[i-1], s.weights[i]
	return a[1] * math.Pow(b[1]/a[1], (day-a[0])/(b[0]-a[0]))
}

func (s *scenario) weigh(source string, rate float64, span string, noise float64) {
	from, to := between(span)
	wander := 0.0
	for at := from; at < to; at += 1 / rate {
		day := at + s.rng.Float64()*min(1/rate, 0.9)
		wander = 0.8*wander + 0.3*noise*s.rng.NormFloat64()
		kg := s.truth(day) + wander + noise*s.rng.NormFloat64() + s.bias
		if s.round > 0 {
			kg = math.Round(kg/s.round) * s.round
		}
		s.seen = append(s.seen, Observation{Weighing: &home.Weighing{Cat: "cat", Time: dayTime(day), Kg: kg, Source: source, Confidence: 1}})
	}
}

func (s *scenario) breaths(state home.State, window, span string, counts []string) {
	seconds := number(strings.TrimSuffix(window, "s"))
	from, to := between(span)
	for i := 0; from+float64(i) < to; i++ {
		s.seen = append(s.seen, Observation{Count: &home.Reading{
			Source: home.Hand, Quantity: home.Breaths, Time: dayTime(from + float64(i) + 0.8), Cat: "cat", State: state,
			Window: time.Duration(seconds) * time.Second, Value: number(counts[i%len(counts)]),
		}})
	}
}

// run steps a monitor through the scenario with a tick at each full hour.
func (s *scenario) run() []home.Transition {
	slices.SortStableFunc(s.seen, func(a, b Observation) int { return a.Time().Compare(b.Time()) })
	m := New(s.cat, Options{})
	var turned []home.Transition
	next := 0
	for hour := range s.until * 24 {
		now := epoch.Add(time.Duration(hour) * time.Hour)
		for ; next < len(s.seen) && s.seen[next].Time().Before(now); next++ {
			turned = append(turned, m.Step(s.seen[next])...)
		}
		turned = append(turned, m.Tick(now)...)
	}
	return turned
}

// wrong is what is raised and not wanted, and what is wanted and missing.
func (s *scenario) wrong(turned []home.Transition) (wrong []string) {
	for _, tr := range turned {
		day := tr.At.Sub(epoch).Hours() / 24
		met := false
		for i := range s.wants {
			w := &s.wants[i]
			if !w.met && w.sign == tr.Finding.Sign && w.turn == tr.Turn && day >= w.from && day <= w.to &&
				(w.urgency == "" || w.urgency == tr.Finding.Urgency) {
				w.met, met = true, true
				break
			}
		}
		if tr.Turn == home.Raised && !met {
			wrong = append(wrong, fmt.Sprintf("%s raised, %s, is not wanted", tr.Finding.Sign, tr.Finding.Urgency))
		}
	}
	for _, w := range s.wants {
		if !w.met {
			wrong = append(wrong, fmt.Sprintf("wanted and missing: %s %s %s on day %g to %g", w.sign, w.turn, w.urgency, w.from, w.to))
		}
	}
	return wrong
}
