package dashboards_test

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards/chart"
	"weighbeam/dashboards/fakehouse"
)

// A picture is well-formed XML with a title and a description, and without
// anything that a strict policy would stop.
func TestChart_SVG_IsStrictAndNamed(t *testing.T) {
	s := serve(fakehouse.Lived())
	for _, path := range []string{"/cats/mustard/weight.svg", "/cats/plum/breaths.svg?size=narrow", "/cats/plum/weight.svg?size=spark", "/cats/plum/weight.svg?size=print&from=2026-01-01&to=2026-02-01"} {
		w := get(s, path)
		says(t, w, 200, "<title", "<desc", "role=\"img\"")
		if w.Header().Get("Content-Security-Policy") != chart.Policy || strings.Contains(chart.Policy, "unsafe") {
			t.Errorf("%s: policy is %q", path, w.Header().Get("Content-Security-Policy"))
		}
		if bytes.Contains(w.Body.Bytes(), []byte(" style=")) || bytes.Contains(w.Body.Bytes(), []byte("<script")) {
			t.Errorf("%s has a style attribute or script", path)
		}
		d := xml.NewDecoder(bytes.NewReader(w.Body.Bytes()))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", path, err)
			}
		}
		if again := get(s, path); !bytes.Equal(again.Body.Bytes(), w.Body.Bytes()) {
			t.Errorf("%s is not the same twice", path)
		}
	}
}

func TestChart_PNG_IsAPicture(t *testing.T) {
	img, err := png.Decode(get(serve(fakehouse.Lived()), "/cats/mustard/weight.png").Body)
	if err != nil {
		t.Fatal(err)
	}
	if b := img.Bounds(); b.Dx() != 1440 || b.Dy() != 600 {
		t.Errorf("the picture is %v, want 1440 by 600", b)
	}
}

// The file holds each reading of the period, and can be read back.
func TestChart_CSV_HoldsEachReading(t *testing.T) {
	h := fakehouse.Lived()
	rows, err := csv.NewReader(get(serve(h), "/cats/plum/weight.csv?period=6w").Body).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	from := fakehouse.Now.AddDate(0, 0, -42)
	want, _ := h.Weighings(t.Context(), "plum", from, fakehouse.Now.Add(time.Second))
	if len(rows) != len(want)+1 || len(want) < 80 {
		t.Fatalf("%d rows for %d weighings", len(rows)-1, len(want))
	}
	if got := strings.Join(rows[0], ","); got != "time,source,quantity,value,unit,cat,window_s,state,note,sd" {
		t.Errorf("header is %s", got)
	}
	for i, w := range want {
		at, errTime := time.Parse(time.RFC3339Nano, rows[i+1][0])
		kg, errValue := strconv.ParseFloat(rows[i+1][3], 64)
		if errTime != nil || errValue != nil || !at.Equal(w.Time) || kg != w.Kg || rows[i+1][1] != w.Source {
			t.Fatalf("row %v is not %+v", rows[i+1], w)
		}
	}
	counts, err := csv.NewReader(get(serve(h), "/cats/plum/breaths.csv?period=all").Body).ReadAll()
	if err != nil || len(counts) != 76 || counts[1][6] != "30" || counts[1][7] != "asleep" {
		t.Errorf("counts: %d rows, %v, %v; want 75 asleep and none of the practice", len(counts)-1, counts[1], err)
	}
}

func TestFiles_UnchangedSinceLastTime_AreNotSentAgain(t *testing.T) {
	s := serve(fakehouse.Lived())
	for _, path := range []string{"/style.css", "/icon.svg", "/cats/plum/weight.svg"} {
		tag := get(s, path).Header().Get("ETag")
		r := httptest.NewRequest("GET", path, nil)
		r.Header.Set("If-None-Match", tag)
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		if w.Code != 304 || w.Body.Len() != 0 {
			t.Errorf("%s: status %d with %d bytes, want 304 with none", path, w.Code, w.Body.Len())
		}
	}
}

// Words and controls stand out from the paper as WCAG 2.2 asks: 4.5 to 1 for
// words (1.4.3), 3 to 1 for marks, lines and borders of fields (1.4.11).
func TestInks_OnPaper_HaveContrast(t *testing.T) {
	css := get(serve(fakehouse.Lived()), "/style.css").Body.String()
	schemes := regexp.MustCompile(`--paper:(#\w{6});--strong:(#\w{6});--text:(#\w{6});--rule:#\w{6};--faint:(#\w{6});--accent:(#\w{6});--wash:(#\w{6})`).FindAllStringSubmatch(css, -1)
	if len(schemes) != 2 {
		t.Fatalf("found %d schemes in the style sheet, want light and dark", len(schemes))
	}
	for i, s := range schemes {
		paper, strong, text, faint, accent, wash := s[1], s[2], s[3], s[4], s[5], s[6]
		for _, c := range []struct {
			on, ink string
			least   float64
		}{
			{paper, strong, 4.5}, {paper, text, 4.5}, {paper, accent, 4.5},
			{wash, strong, 4.5}, {wash, text, 4.5}, {wash, accent, 4.5}, {paper, faint, 3},
		} {
			if got := contrast(c.on, c.ink); got < c.least {
				t.Errorf("scheme %d: %s on %s has %.2f to 1, want %v", i, c.ink, c.on, got, c.least)
			}
		}
	}
	// The charts are drawn in the inks of the page.
	for _, ink := range []chart.Ink{chart.Paper, chart.Text, chart.Faint, chart.Accent, chart.Strong} {
		r, g, b, _ := ink.RGBA()
		if hex := fmt.Sprintf("#%02x%02x%02x", r>>8, g>>8, b>>8); !strings.Contains(css, hex) {
			t.Errorf("the page has no ink %s, the chart does", hex)
		}
	}
}

// contrast is the ratio of WCAG 2.2, from its definition of relative luminance.
func contrast(a, b string) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func luminance(hex string) float64 {
	var sum float64
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
		if err != nil {
			return math.NaN()
		}
		c := float64(v) / 255
		if c <= 0.04045 {
			sum += weight * c / 12.92
		} else {
			sum += weight * math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	return sum
}

// Black on white is 21 to 1, and the best-known grey on white 4.48 (W3C).
func TestContrast_KnownPairs(t *testing.T) {
	if got := contrast("#000000", "#ffffff"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white is %v", got)
	}
	if got := contrast("#777777", "#ffffff"); math.Abs(got-4.48) > 0.005 {
		t.Errorf("#777 on white is %v", got)
	}
}
