package carry

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"

	"weighbeam/home"
)

// ReadCalibrations reads the calibrations of a JSON-lines file, as an export or
// "calibrate --json" writes it; lines of other things are passed over.
func ReadCalibrations(path string) ([]home.Calibration, error) {
	const op = "read calibrations"
	f, err := os.Open(path)
	if err != nil {
		return nil, &home.Error{Op: op, Hint: "Give the path of a JSON-lines export.", Err: err}
	}
	defer f.Close()
	all, err := parseCalibrations(f)
	if err != nil {
		return nil, &home.Error{Op: op, Hint: "Give the path of a JSON-lines export.", Err: fmt.Errorf("%s %w", path, err)}
	}
	return all, nil
}

func parseCalibrations(r io.Reader) (all []home.Calibration, err error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, maxLine)
	for n := 1; lines.Scan(); n++ {
		var l line
		if err := json.Unmarshal(lines.Bytes(), &l); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		if l.Calibration == nil {
			continue
		}
		if err := l.Calibration.Valid(); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		all = append(all, *l.Calibration)
	}
	return all, lines.Err()
}
