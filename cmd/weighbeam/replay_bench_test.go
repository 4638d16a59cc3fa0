package main

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// BenchmarkReplay_Weights is the whole command over one million weights of four
// cats, twenty years of them, each with the cat's name: the time of an operation is
// the time of the million.
func BenchmarkReplay_Weights(b *testing.B) {
	const million = 1_000_000
	path := filepath.Join(b.TempDir(), "readings.csv")
	if err := writeWeights(path, million, 20*365*24*time.Hour); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if code := run([]string{"replay", "--json", path}, io.Discard, io.Discard); code != 0 {
			b.Fatalf("code %d", code)
		}
	}
}

// writeWeights writes n weights of four cats, each on a scale of its own, evenly over span.
func writeWeights(path string, n int, span time.Duration) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	rng := rand.New(rand.NewPCG(1, 1))
	start := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	fmt.Fprintln(w, "time,source,quantity,value,unit,cat")
	for i := range n {
		at := start.Add(time.Duration(float64(span) * float64(i) / float64(n)))
		cat := i % 4
		fmt.Fprintf(w, "%s,box-%d,weight,%.3f,kg,cat-%d\n", at.Format(time.RFC3339), cat, 4+0.3*float64(cat)+0.05*rng.NormFloat64(), cat)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}
