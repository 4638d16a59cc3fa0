package fakehouse

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"strings"

	"weighbeam/home"
)

// SetHousehold changes the household, and keeps what was typed in Typed.
func (h *House) SetHousehold(_ context.Context, was string, of home.Household, typed map[string]string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if was != h.Home.Mark() {
		return home.ErrChanged
	}
	if err := of.Valid(); err != nil || h.AppendErr != nil {
		return errors.Join(err, h.AppendErr)
	}
	h.Home = of
	if h.Typed == nil {
		h.Typed = map[string]string{}
	}
	maps.Copy(h.Typed, typed)
	return nil
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

// Reach knows no message service but one, at ntfy.
func (h *House) Reach(_ context.Context, c home.Contact, secret string) error {
	if c.Way == home.ByService && secret == "" && h.Typed[c.ID] == "" {
		return home.Hinted("read who is told", "Type it on the page of the contact.", "the address of %s is not there", c.ID)
	}
	if secret != "" && c.Way == home.ByService && !strings.HasPrefix(secret, "ntfy://") {
		return errors.New("no such service is known")
	}
	return nil
}

// Channels is one of the settings' own.
func (h *House) Channels() []string { return []string{"lamp"} }

// Vet is what the household says.
func (h *House) Vet() (name, phone string) { return h.Home.Practice, h.Home.Phone }
