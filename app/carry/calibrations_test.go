package carry

import (
	"strings"
	"testing"
)

func FuzzParseCalibrations(f *testing.F) {
	f.Add(`{"calibration":{"Source":"box-1","At":"2025-03-03T12:00:00Z","From":"1970-01-01T00:00:00Z","Gain":1,"Points":[{"Load":[1]},{"Kg":2,"Load":[3]}]}}`)
	f.Add(`{"household":{}}` + "\n" + `{"calibration":{"Source":"box-1"}}`)
	f.Add(`{"calibration":null}`)
	f.Fuzz(func(t *testing.T, text string) {
		all, err := parseCalibrations(strings.NewReader(text))
		if err != nil && len(all) > 0 {
			t.Error("half of a file that cannot be read")
		}
		for _, c := range all {
			if err := c.Valid(); err != nil {
				t.Errorf("took %+v: %v", c, err)
			}
		}
	})
}
