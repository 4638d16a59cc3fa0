package fakehouse

import (
	"context"
	"encoding/json"
	"fmt"

	"weighbeam/home"
)

// SetHousehold changes the household.
func (h *House) SetHousehold(_ context.Context, of home.Household) error {
	if err := of.Valid(); err != nil {
		return err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.AppendErr == nil {
		h.Home = of
	}
	return h.AppendErr
}

// Format writes a household as JSON, which stands here for the household file.
func (h *House) Format(of home.Household) ([]byte, error) { return json.MarshalIndent(of, "", " ") }

// Parse reads what Format wrote; it knows the payloads senml and number alone.
func (h *House) Parse(text []byte) (home.Household, error) {
	var of home.Household
	if err := json.Unmarshal(text, &of); err != nil {
		return of, home.Hinted("read household", "Look at line 1.", "the file is cut short: %w", err)
	}
	for _, s := range of.Scales {
		if s.Payload != "" && s.Payload != "senml" && s.Payload != "number" {
			return of, fmt.Errorf("scale %q: unknown payload %q", s.ID, s.Payload)
		}
	}
	return of, of.Valid()
}
