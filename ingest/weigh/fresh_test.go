package weigh

import (
	"context"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// paged counts what is read of a series at a time.
type paged struct {
	*store.DB
	most, all int
}

func (p *paged) FirstReadings(ctx context.Context, source string, q home.Quantity, from, to time.Time, limit int) ([]home.Reading, error) {
	got, err := p.DB.FirstReadings(ctx, source, q, from, to, limit)
	p.most, p.all = max(p.most, len(got)), p.all+len(got)
	return got, err
}

// stay is load of a cat that comes a minute after from and goes two minutes later.
func stay(source string, from time.Time) []home.Reading {
	var all []home.Reading
	for s := range 300 {
		kg := 5.0
		if s >= 60 && s < 180 {
			kg = 9
		}
		at := from.Add(time.Duration(s) * time.Second)
		all = append(all, home.Reading{Source: source, Quantity: home.Load, Time: at, Arrived: at, Value: kg, Clock: home.ByDevice})
	}
	return all
}

// What is new is read by the page, whatever the span of an entry of the journal; and of
// a span that begins before what was seen, only what is new.
func TestRunner_Round_ReadsByThePage(t *testing.T) {
	f := newFixture(t, noon)
	p := &paged{DB: f.db}
	r := f.runningOver(p)
	r.page = 50
	f.rounds(t, r)
	p.most, p.all = 0, 0
	var said []home.Reading
	for i := range 8 {
		said = append(said, stay([]string{"box-1", "box-2"}[i%2], noon.Add(time.Duration(i)*time.Hour))...)
	}
	f.now = noon.Add(9 * time.Hour)
	f.append(t, said...)
	f.rounds(t, r)
	if p.most > 100 || p.all < len(said) {
		t.Errorf("%d readings at a time, %d in all, of %d", p.most, p.all, len(said))
	}
	if n := len(f.visits(t)); n != 8 {
		t.Errorf("%d visits of 8", n)
	}
	f.asAnew(t)

	p.all = 0
	late, fresh := said[0], said[0]
	late.Time, fresh.Time = noon.Add(500*time.Millisecond), f.now
	f.append(t, late, fresh)
	if _, err := r.Round(t.Context()); err != nil {
		t.Fatal(err)
	}
	if p.all > 2 {
		t.Errorf("%d readings were read again, of which one is new", p.all)
	}
}

// Each reading is on one page, also where more are of one moment than a page has room for.
func TestPages_Fill_OneMoment(t *testing.T) {
	f := newFixture(t, noon)
	var said []home.Reading
	for i := range 70 {
		at := noon.Add(time.Duration(min(max(i-5, 0), 1)) * time.Second) // six, then 64 at once
		said = append(said, home.Reading{Source: "box-1", Quantity: home.Load, Time: at, Seq: int64(i), Value: 5, Clock: home.ByDevice})
	}
	f.append(t, said...)
	for _, size := range []int{4, 6, 7, 64, 70, 71} {
		p := &pages{of: series{"box-1", home.Load}, from: noon, to: noon.Add(time.Hour)}
		n := int64(0)
		for {
			if err := p.fill(t.Context(), f.db, size); err != nil {
				t.Fatal(err)
			}
			if len(p.read) == 0 {
				break
			}
			if p.read[0].Seq != n {
				t.Fatalf("pages of %d: reading %d after %d", size, p.read[0].Seq, n-1)
			}
			n++
			p.read = p.read[1:]
		}
		if n != 70 {
			t.Errorf("pages of %d: %d readings of 70", size, n)
		}
	}
}
