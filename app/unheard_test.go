package app

import (
	"testing"
	"time"

	"weighbeam/ingest/mqtt"
)

// The pages say when readings are kept out, and are silent about what heals by itself.
func TestUnheard(t *testing.T) {
	now := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	gone := func(ago time.Duration) mqtt.Health { return mqtt.Health{Since: now.Add(-ago), Error: "EOF"} }
	for _, row := range []struct {
		name   string
		ingest Stage
		broker mqtt.Health
		want   int
	}{
		{"no broker outside", Stage{}, mqtt.Health{}, 0},
		{"connected for long", Stage{}, mqtt.Health{Connected: true, Since: now.Add(-time.Hour)}, 0},
		// a broker that is started anew
		{"gone for a moment", Stage{}, gone(silentAfter), 0},
		{"gone", Stage{}, gone(silentAfter + time.Second), 1},
		{"disk full", Stage{Problem: "The store has refused readings."}, mqtt.Health{}, 1},
		{"both", Stage{Problem: "The store has refused readings."}, gone(time.Hour), 2},
	} {
		if got := unheard(row.ingest, row.broker, now); len(got) != row.want {
			t.Errorf("%s: %q", row.name, got)
		}
	}
}
