package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"weighbeam/app"
	"weighbeam/home"
)

// calibrateSession asks a person for one known mass after the other and reads the
// scale when it is still.
type calibrateSession struct {
	source   string
	bench    app.Bench
	out      io.Writer
	lines    *bufio.Scanner
	every    time.Duration // between two looks at the scale
	patience time.Duration // for a mass to be put on and to rest

	points []home.KnownLoad
	said   string // the last thing said while waiting
}

func (s *calibrateSession) run(ctx context.Context) ([]home.KnownLoad, error) {
	live, err := s.bench.Live(ctx, s.source)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(s.out, "%s says %.4f kg. Take off all but what is always on it (the box with its litter, the empty bowl), then press Enter.\n", s.source, live.Kg)
	if _, ok := s.line(ctx); !ok {
		return nil, s.ended(ctx)
	}
	if err := s.read(ctx, home.KnownLoad{}); err != nil {
		return nil, err
	}
	for {
		fmt.Fprintf(s.out, "Put a known mass on and say what it is, as 2 kg, 500 g +- 1 g, pack 1 kg or water 1.5 l. Enter alone: that was all.\n")
		text, ok := s.line(ctx)
		if !ok || text == "" {
			return s.points, ctx.Err()
		}
		known, err := home.ParseKnownMass(text)
		if err == nil {
			err = s.read(ctx, known)
		}
		if errors.Is(err, context.Canceled) {
			return nil, err
		}
		if err != nil {
			fmt.Fprintf(s.out, "  %v\n", err)
			if hint := home.Hint(err); hint != "" {
				fmt.Fprintf(s.out, "  %s\n", hint)
			}
		}
	}
}

// line is the next line that the person typed; ok is false at the end.
func (s *calibrateSession) line(ctx context.Context) (text string, ok bool) {
	got := make(chan bool, 1)
	go func() { got <- s.lines.Scan() }()
	select {
	case <-ctx.Done():
		return "", false
	case more := <-got:
		return strings.TrimSpace(s.lines.Text()), more
	}
}

func (s *calibrateSession) ended(ctx context.Context) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return home.Hinted("calibrate", "Run it on a terminal, or give known loads with --points.", "nobody answered")
}

// read waits until the scale rests, at a load that can be the known one, and takes
// that as a point.
func (s *calibrateSession) read(ctx context.Context, known home.KnownLoad) error {
	tick := time.NewTicker(s.every)
	defer tick.Stop()
	s.said = ""
	for end := time.Now().Add(s.patience); ; {
		live, err := s.bench.Live(ctx, s.source)
		if err != nil {
			return err
		}
		waits := live.Moving
		if waits == "" && s.unchanged(known, live.Rest) {
			waits = "The load is as it was: put the mass on."
		}
		if waits == "" {
			s.take(known, live.Rest)
			return nil
		}
		s.wait(waits)
		if time.Now().After(end) {
			return home.Hinted("read the scale", "Say the mass again when it is on and nothing touches it.", "%s", waits)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
		}
	}
}

// unchanged reports whether a rest is the last one still, though another mass
// should lie there now. A fifth of the difference is more than any gain forgives.
func (s *calibrateSession) unchanged(known home.KnownLoad, rest home.KnownLoad) bool {
	if len(s.points) == 0 {
		return false
	}
	last := s.points[len(s.points)-1]
	return rest.From.Before(last.To) || math.Abs(middle(rest)-middle(last)) < 0.2*math.Min(math.Abs(known.Kg-last.Kg), 0.1)
}

func (s *calibrateSession) take(known, rest home.KnownLoad) {
	rest.Kg, rest.SDKg = known.Kg, known.SDKg
	s.points = append(s.points, rest)
	what := "Empty"
	if known.Kg > 0 {
		what = fmt.Sprintf("%.4g kg (± %.2g g)", known.Kg, known.SDKg*1000)
	}
	fmt.Fprintf(s.out, "  %s reads %.4f kg at rest.\n", what, middle(rest))
}

func (s *calibrateSession) wait(why string) {
	kind, _, _ := strings.Cut(why, " by ") // the figures change all the time
	if kind != s.said {
		fmt.Fprintf(s.out, "  waiting: %s\n", why)
		s.said = kind
	}
}

// middle is the mean of a rest, kg.
func middle(p home.KnownLoad) float64 {
	sum := 0.0
	for _, l := range p.Load {
		sum += l
	}
	return sum / float64(len(p.Load))
}
