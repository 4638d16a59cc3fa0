package payload

import (
	"encoding/csv"
	"io"

	"weighbeam/home"
)

// CSVWriter writes the readings CSV: what it writes, [CSVReader] reads back as the
// same readings.
type CSVWriter struct {
	w      *csv.Writer
	row    []string
	headed bool
}

// NewCSVWriter returns a writer that writes the header before the first row.
func NewCSVWriter(w io.Writer) *CSVWriter { return &CSVWriter{w: csv.NewWriter(w)} }

// Write writes one reading.
func (c *CSVWriter) Write(r home.Reading) error {
	if err := c.head(); err != nil {
		return err
	}
	c.row = formatRow(r, c.row)
	return c.w.Write(c.row)
}

// Flush writes what is held back, and the header where no reading was written.
func (c *CSVWriter) Flush() error {
	if err := c.head(); err != nil {
		return err
	}
	c.w.Flush()
	return c.w.Error()
}

func (c *CSVWriter) head() error {
	if c.headed {
		return nil
	}
	c.headed = true
	return c.w.Write(Columns)
}
