package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// readPoints reads known loads from a CSV file with a header: mass and reading, kg,
// or mass, from and to, RFC 3339; sd of the mass, kg, where it is known. Rows of
// one mass in a row are readings of one load.
func readPoints(path string) ([]home.KnownLoad, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	points, err := parsePoints(f)
	if err != nil {
		return nil, &home.Error{Op: "read " + path, Err: err,
			Hint: "Begin with the header mass,sd,reading (all in kg), or mass,sd,from,to for loads that were recorded; mass 0 is the empty scale."}
	}
	return points, nil
}

func parsePoints(r io.Reader) (points []home.KnownLoad, err error) {
	rows := csv.NewReader(r)
	rows.TrimLeadingSpace = true
	rows.Comment = '#'
	header, err := rows.Read()
	if err != nil {
		return nil, fmt.Errorf("line 1: %w", err)
	}
	for i := range header {
		header[i] = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(header[i], "\ufeff")))
	}
	for {
		row, err := rows.Read()
		if errors.Is(err, io.EOF) {
			return points, nil
		}
		if err != nil {
			return nil, err
		}
		n, _ := rows.FieldPos(0)
		p, err := pointOf(header, row)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		if last := len(points) - 1; last >= 0 && len(p.Load) > 0 && points[last].Kg == p.Kg && points[last].SDKg == p.SDKg {
			points[last].Load = append(points[last].Load, p.Load...)
			continue
		}
		points = append(points, p)
	}
}

func pointOf(header, row []string) (p home.KnownLoad, err error) {
	cell := func(name string) string {
		if i := slices.Index(header, name); i >= 0 && i < len(row) {
			return strings.TrimSpace(row[i])
		}
		return ""
	}
	number := func(name string) float64 {
		if cell(name) == "" {
			return 0
		}
		v, bad := strconv.ParseFloat(cell(name), 64)
		if bad != nil && err == nil {
			err = fmt.Errorf("%s %q is no number", name, cell(name))
		}
		return v
	}
	at := func(name string) time.Time {
		if cell(name) == "" {
			return time.Time{}
		}
		v, bad := time.Parse(time.RFC3339, cell(name))
		if bad != nil && err == nil {
			err = fmt.Errorf("%s %q is no RFC 3339 time", name, cell(name))
		}
		return v
	}
	p = home.KnownLoad{Kg: number("mass"), SDKg: number("sd"), From: at("from"), To: at("to")}
	switch {
	case err != nil:
		return p, err
	case cell("mass") == "":
		return p, errors.New("it has no mass")
	case cell("reading") != "":
		p.Load = []float64{number("reading")}
		return p, err
	case p.From.IsZero() || p.To.IsZero():
		return p, errors.New("it has neither a reading nor from and to")
	}
	return p, nil
}
