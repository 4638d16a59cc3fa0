package visit_test

import (
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

type loadSample struct {
	at time.Time
	kg float64
}

// record keeps what a device sends in some days of the hard house.
func record(c cell, days int, seed uint64) []loadSample {
	var out []loadSample
	s := scene{cell: c, cats: hardCats, how: hardTemper(), days: days}
	s.play(seed, func(at, g float64) { out = append(out, loadSample{stamp(at), g / 1000}) })
	return out
}

func benchmarkStep(b *testing.B, c cell, days int) {
	data := record(c, days, 5)
	span := data[len(data)-1].at.Sub(data[0].at) + time.Minute
	tr := visit.New(home.LitterBox)
	n := 0
	emit := func(home.Visit) { n++ }
	b.ReportAllocs()
	i, shift := 0, time.Duration(0)
	for b.Loop() {
		if i == len(data) {
			i, shift = 0, shift+span
		}
		tr.Step(data[i].at.Add(shift), data[i].kg, emit)
		i++
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds()/1e6, "Msamples/s")
	if n == 0 && b.N > len(data) {
		b.Fatal("no visit in all of it")
	}
}

// A device that samples on and on, empty for most of the day.
func BenchmarkStep_Always(b *testing.B) {
	c := hardCells()[0]
	c.always = true
	benchmarkStep(b, c, 2)
}

// A device that sends little but while something is on it: each sample is busy.
func BenchmarkStep_Occupied(b *testing.B) { benchmarkStep(b, hardCells()[0], 40) }

// The same for one that sends on change.
func BenchmarkStep_OnChange(b *testing.B) { benchmarkStep(b, hardCells()[2], 40) }
