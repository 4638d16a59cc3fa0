package sheet

import (
	"time"

	"weighbeam/dashboards/chart"
)

// Sheet is what is said of one cat, in the units and the zone of the house.
type Sheet struct {
	CatID    string
	Name     string
	About    string // sex, age, chip, in words
	Period   string // the dates that it covers, in words
	Made     time.Time
	MadeOn   string
	Sections []Section
	Caution  string
}

// Section is one heading and what stands under it; any part may be missing.
type Section struct {
	Heading string
	Second  bool // it begins the second page
	Reasons []Reason
	Facts   []Fact
	Text    []string
	Chart   *Chart
	Table   *Table
	List    []Entry
	Older   int // entries that are not in List
	Lumps   []Lump
	Points  []string
}

// Reason is a finding that is open.
type Reason struct {
	Sign, Deed, Text string
	Facts            []Fact
}

// Fact is a figure with its interval. An empty Value is not known.
type Fact struct{ Name, Value, Interval string }

// Chart is a picture and its legend. Address is where a page finds it.
type Chart struct {
	Picture chart.Picture
	Legend  []Key
	Address string
}

// Key is one entry of a legend.
type Key struct{ Glyph, Words string }

// Table has a heading a column; the first column names the row.
type Table struct {
	Name string
	Head []string
	Text []int // indexes of columns besides the first that hold words, not figures
	Wide int   // so many columns at the end stand on paper only where it goes across the page
	Rows [][]string
}

// Words reports whether column i holds words.
func (t Table) Words(i int) bool {
	for _, c := range t.Text {
		if c == i {
			return true
		}
	}
	return i == 0
}

// Entry is something at one time.
type Entry struct {
	When  time.Time
	Day   string // as the house writes When
	Words string
	Note  bool // a person's own words
}

// Lump is one lump on the body outline. X and Y are places on it, from 0 to 1,
// seen from above with the nose at the top and the cat's left on the left.
type Lump struct {
	Number int
	X, Y   float64
	Words  string
}

// Body is the outline of a cat as Lump's X and Y see it, as closed lines from
// point to point. It is twice as high as wide.
func Body() [][][2]float64 { return body }
