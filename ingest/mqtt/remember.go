package mqtt

import (
	"bytes"
	"encoding/json"
	"slices"

	"weighbeam/home"
)

// remembered returns the filters that the broker may still hold for this session.
func (s *Session) remembered() ([]string, error) {
	s.mu.Lock()
	known := slices.Clone(s.health.Subscribed)
	s.mu.Unlock()
	if s.cfg.Memory == nil {
		return known, nil
	}
	text, err := s.cfg.Memory.Recall()
	if err != nil {
		return nil, &home.Error{Op: "read subscriptions", Err: err}
	}
	if text == nil {
		return known, nil
	}
	var kept []string
	if err := json.Unmarshal(text, &kept); err != nil {
		return nil, home.Hinted("read subscriptions", "Delete their file beside the store: it only says what to unsubscribe.", "what was subscribed to cannot be read: %w", err)
	}
	return union(known, kept), nil
}

// remember keeps known and wanted together, over the end of the program where there is
// a memory.
func (s *Session) remember(known []string, wanted []Filter) error {
	for _, f := range wanted {
		known = union(known, []string{f.Topic})
	}
	s.mu.Lock()
	s.health.Subscribed = slices.Clone(known)
	s.mu.Unlock()
	if s.cfg.Memory == nil {
		return nil
	}
	text, err := json.Marshal(known)
	if err != nil {
		return err
	}
	if old, err := s.cfg.Memory.Recall(); err == nil && bytes.Equal(old, text) {
		return nil
	}
	if err := s.cfg.Memory.Remember(text); err != nil {
		return &home.Error{Op: "keep subscriptions", Hint: "The folder must exist and be writable.", Err: err}
	}
	return nil
}

func union(a, b []string) []string {
	all := append(slices.Clone(a), b...)
	slices.Sort(all)
	return slices.Compact(all)
}
