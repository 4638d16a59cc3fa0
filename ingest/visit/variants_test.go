package visit_test

import (
	"fmt"
	"os"
	"testing"
)

func TestVariants(t *testing.T) {
	base := hardTemper()
	type row struct {
		name string
		how  temper
		mod  func(*cell)
	}
	rows := []row{
		{"white1.5%", func() temper { b := base; b.restless = 1.5; return b }(), nil},
		{"white3%", func() temper { b := base; b.restless = 3; return b }(), nil},
		{"longlooks", func() temper { b := base; b.lookLong = 20; b.looks = 2; return b }(), nil},
		{"steadyhands", func() temper { b := base; b.handCV = 0.04; b.hands = 2; return b }(), nil},
		{"short", func() temper { b := base; b.short = true; return b }(), nil},
		{"creepy", base, func(c *cell) { c.creep = 0.0015; c.thermal = 70 }},
		{"beats10", base, func(c *cell) {
			if c.band == 0 {
				c.beat, c.tail = 600, 0
			}
		}},
		{"beats1", base, func(c *cell) { c.tail = 0 }},
		{"spiky", base, func(c *cell) { c.spikes *= 5; c.gaps = 0.4 }},
		{"noisy", base, func(c *cell) { c.noise = 8 }},
	}
	for _, r := range rows {
		if f := os.Getenv("ROW"); f != "" && f != r.name {
			continue
		}
		for _, c := range hardCells() {
			var all figures
			if r.mod != nil {
				r.mod(&c)
			}
			track(c, hardCats, r.how, 60, 300, &all, os.Getenv("VERBOSE") == c.name)
			fmt.Println(r.name, all.line(c.name), all.wrong)
		}
	}
}
