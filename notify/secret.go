package notify

// Secret is a text that is never shown: printing, logging or encoding it gives
// a placeholder. Only string(s) gives the text.
type Secret string

const hidden = "(secret)"

func (s Secret) String() string {
	if s == "" {
		return ""
	}
	return hidden
}

// GoString hides s from %#v.
func (s Secret) GoString() string { return s.String() }

// MarshalText hides s from JSON, TOML and slog.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }
