package notify

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"

	"weighbeam/home"
)

// pick chooses from what a lane holds: an urgent notice that was never tried
// goes first, then whatever has been due longest. If more than most notices of
// that kind, urgent or not, are due, it takes them all, as one message; what is
// due together with a digest goes with it.
func pick(held []home.Notice, most int) []home.Notice {
	if len(held) == 0 {
		return nil
	}
	slices.SortFunc(held, inOrder)
	var alike []home.Notice
	for _, n := range held {
		if urgent(n) == urgent(held[0]) {
			alike = append(alike, n)
		}
	}
	if len(alike) > most || most != alone && slices.ContainsFunc(alike, isDaily) {
		return alike
	}
	return alike[:1]
}

func inOrder(a, b home.Notice) int {
	return cmp.Or(
		-compareBool(urgent(a) && a.Attempts == 0, urgent(b) && b.Attempts == 0),
		a.Due.Compare(b.Due),
		cmp.Compare(loudness(b).Rank(), loudness(a).Rank()),
		cmp.Compare(a.ID, b.ID),
	)
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// alone, as the most that go each by itself, means that nothing is folded.
const alone = math.MaxInt

func isDaily(n home.Notice) bool { return n.Turn == home.Daily }

func urgent(n home.Notice) bool { return loudness(n).Rank() >= home.Today.Rank() }

// loudness is how urgently n wants to be read: that something is over, however
// urgent it was, can wait.
func loudness(n home.Notice) home.Urgency {
	if n.Turn == home.Closed {
		return home.Mention
	}
	return n.Urgency
}

// fold makes one message of the notices of a batch.
func fold(batch []home.Notice) Message {
	first := batch[0]
	m := Message{ID: first.ID, Finding: first.Finding, Subject: first.Subject, Body: first.Body, Urgency: loudness(first), Created: first.Created, Notices: []string{first.ID}}
	if len(batch) == 1 {
		return m
	}
	m.Notices, m.Finding = nil, ""
	for _, n := range batch {
		m.Notices = append(m.Notices, n.ID)
		if u := loudness(n); u.Rank() > m.Urgency.Rank() {
			m.Urgency = u
		}
		if n.Created.Before(m.Created) {
			m.Created = n.Created
		}
	}
	m.ID = foldID(m.Notices)
	byUrgency := slices.SortedStableFunc(slices.Values(batch), func(x, y home.Notice) int {
		return cmp.Or(-compareBool(isDaily(x), isDaily(y)), cmp.Compare(loudness(y).Rank(), loudness(x).Rank()))
	})
	m.Subject = cut(fmt.Sprintf("%d notices. First: %s", len(batch), byUrgency[0].Subject), MaxSubject-1)
	if isDaily(byUrgency[0]) {
		m.Subject = byUrgency[0].Subject
	}
	m.Body = foldBody(byUrgency)
	return m
}

// foldID depends on which notices are in the message, not on their order.
func foldID(ids []string) string {
	sum := sha256.Sum256([]byte(strings.Join(slices.Sorted(slices.Values(ids)), "\n")))
	return "several/" + hex.EncodeToString(sum[:16])
}

// Of a folded message the first wholeBodies notices are given in full, and the
// subject lines of the first mostLines: a receiver may refuse a longer message.
const (
	wholeBodies = 10
	mostLines   = 100
)

func foldBody(byUrgency []home.Notice) string {
	var b strings.Builder
	order := "the most urgent first"
	if isDaily(byUrgency[0]) {
		order = "the digest of the day first"
	}
	fmt.Fprintf(&b, "%d things are to be told at once, %s.\n\n", len(byUrgency), order)
	for _, n := range byUrgency[:min(len(byUrgency), mostLines)] {
		b.WriteString("- " + n.Subject + "\n")
	}
	for _, n := range byUrgency[:min(len(byUrgency), wholeBodies)] {
		text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(n.Body), home.Caution))
		b.WriteString("\n" + n.Subject + "\n" + text + "\n")
	}
	if len(byUrgency) > wholeBodies {
		b.WriteString("\nThe others are on the pages.\n")
	}
	b.WriteString("\n" + home.Caution + "\n")
	return b.String()
}
