package notify

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"weighbeam/home"
)

var (
	juniper = home.Cat{ID: "juniper", Name: "Juniper"}
	t0      = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	turns   = []home.Turn{home.Raised, home.Worsened, home.Eased, home.Updated, home.Reminded, home.Closed}
	levels  = []home.Urgency{home.Mention, home.Book, home.Today, home.Now}
)

// signs are all the signs that package home knows, read from its source: a sign
// that is added there without words here fails the tests of this file.
func signs(t *testing.T) []home.Sign {
	t.Helper()
	files, err := filepath.Glob("../home/*.go")
	if err != nil {
		t.Fatal(err)
	}
	var all []home.Sign
	for _, name := range files {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, signsIn(t, file)...)
	}
	if len(all) < 8 {
		t.Fatalf("found only %d signs in package home", len(all))
	}
	slices.Sort(all)
	return all
}

func signsIn(t *testing.T, file *ast.File) (all []home.Sign) {
	t.Helper()
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if typ, ok := spec.Type.(*ast.Ident); ok && typ.Name == "Sign" {
			s, err := strconv.Unquote(spec.Values[0].(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, home.Sign(s))
		}
		return true
	})
	return all
}

// example is a believable finding of a sign.
func example(sign home.Sign, u home.Urgency) home.Finding {
	f := home.Finding{Cat: "juniper", Sign: sign, Urgency: u, Raised: t0.Add(-day), Updated: t0.Add(-day)}
	switch sign {
	case home.WeightFalling, home.WeightRising, home.WeightLow:
		f.Before, f.After, f.LevelUnit, f.ChangePct = 4.62, 4.41, "kg", -4.5
		f.Rate, f.RateLo, f.RateHi, f.RateUnit = -0.55, -0.8, -0.3, "%/week"
		if sign == home.WeightLow {
			f.Before, f.ChangePct = 5.01, -12
		}
		if sign == home.WeightRising {
			f.After, f.ChangePct, f.Rate, f.RateLo, f.RateHi = 4.83, 4.5, 0.55, 0.3, 0.8
		}
		f.Onset, f.OnsetLo, f.OnsetHi = t0.Add(-44*day), t0.Add(-51*day), t0.Add(-37*day)
		f.Confidence, f.Data = 0.973, 141
	case home.BreathingRising, home.BreathingHigh:
		f.Before, f.After, f.LevelUnit, f.ChangePct = 20, 27, "1/min", 35
		f.Rate, f.RateLo, f.RateHi, f.RateUnit = 2.1, 1.2, 3, "1/min/week"
		f.Onset, f.OnsetLo, f.OnsetHi = t0.Add(-24*day), t0.Add(-29*day), t0.Add(-19*day)
		f.Confidence, f.Data = 0.9999, 19
		if sign == home.BreathingHigh {
			f.Before, f.After, f.ChangePct, f.Confidence, f.Data = 30, 33, 0, 0, 3
			f.Rate, f.RateLo, f.RateHi, f.RateUnit = 0, 0, 0, ""
		}
		f.Warnings = []string{"Two of the counts were taken over 15 seconds only."}
	case home.RedFlagSeen:
		f.Text, f.Confidence, f.Data = "Seen at a home check: breathing with an open mouth.", 1, 1
	case home.HeartOutOfRange:
		f.Before, f.After, f.LevelUnit, f.Data = 120, 104, "/min", 2
	case home.TempOutOfRange:
		f.Before, f.After, f.LevelUnit, f.Data = 39.4, 39.9, "Cel", 1
	case home.EatingLess:
		f.Before, f.After, f.LevelUnit, f.ChangePct, f.Data = 61, 24, "g/day", -61, 2
	case home.DrinkingMore:
		f.Before, f.After, f.LevelUnit, f.ChangePct, f.Data = 96, 171, "mL/day", 78, 7
	case home.LumpToShow:
		f.Text, f.Data = "A lump to show to a vet: neck, 22 mm, 2 cm or more. Book a visit to the practice.", 2
	case home.ScaleSilent:
		f.Cat, f.Source = "", "box-1"
		f.Text = "Last heard on 23 November at 04:05; it usually sends every 6 hours."
	case home.ScaleDrifting:
		f.Cat, f.Source, f.Text = "", "box-1", "Both cats weigh about 1 % less on it since 20 November."
	case home.ChannelFailing:
		f.Cat, f.Source, f.Text = "", home.ChannelSource("phone"), "It has taken nothing since 23 November at 04:05: it answered HTTP 503."
	default:
		f.Text = "Last met on 23 November at 04:05."
	}
	return f
}

// closedCopy is f after it was closed.
func closedCopy(f home.Finding) home.Finding {
	f.Closed, f.Updated, f.Reason = t0, t0, "The readings of the last two weeks fit the usual again."
	return f
}

// atTurn is f as it is at that turn.
func atTurn(f home.Finding, turn home.Turn) home.Finding {
	if turn == home.Closed {
		return closedCopy(f)
	}
	return f
}

// The table a person reviews: every sign by every urgency and turn.
func TestSubject_EverySign(t *testing.T) {
	var table strings.Builder
	for _, sign := range signs(t) {
		for _, turn := range turns {
			for _, u := range levels {
				f := atTurn(example(sign, u), turn)
				s := Subject(f, juniper, turn)
				fmt.Fprintf(&table, "%-17s %-9s %-8s %s\n", sign, turn, u, s)
				if n := utf8.RuneCountInString(s); n >= MaxSubject {
					t.Errorf("%d runes: %q", n, s)
				}
				if strings.ContainsAny(s, "\r\n…") {
					t.Errorf("cut or broken: %q", s)
				}
			}
		}
	}
	golden(t, "subjects.txt", table.String())
}

// Every sign by every turn in full, and every sign by every urgency as far as
// the urgency changes the text.
func TestWords_Body_EverySign(t *testing.T) {
	w := Words{Base: "http://192.168.1.5:8080/"}
	var bodies, table strings.Builder
	for _, sign := range signs(t) {
		for _, turn := range turns {
			for _, u := range levels {
				f := atTurn(example(sign, u), turn)
				body := w.Body(f, juniper, turn)
				checkBody(t, f, turn, body)
				top, rest, _ := strings.Cut(body, "\n\nWhat to do: ")
				deed, _, _ := strings.Cut(rest, "\n")
				fmt.Fprintf(&table, "%s %s %s\n    %s\n    %s\n", sign, turn, u, top, deed)
				if u == home.Book {
					// The caution is the same in all and would hide the rest.
					fmt.Fprintf(&bodies, "=== %s %s\n%s\n", sign, turn, strings.Replace(body, "\n"+home.Caution+"\n", "", 1))
				}
			}
		}
	}
	golden(t, "bodies.txt", bodies.String())
	golden(t, "deeds.txt", table.String())
}

// checkBody holds what is true of every body.
func checkBody(t *testing.T, f home.Finding, turn home.Turn, body string) {
	t.Helper()
	for _, must := range []string{home.Caution, "What to do: ", "Where to look: http://192.168.1.5:8080/findings/"} {
		if !strings.Contains(body, must) {
			t.Errorf("%s %s lacks %q", f.Sign, turn, must)
		}
	}
	for _, never := range []string{"%!", "NaN", "Inf", "0001", "\r", "..\n", "100 %"} {
		if strings.Contains(body, never) {
			t.Errorf("%s %s has %q:\n%s", f.Sign, turn, never, body)
		}
	}
	emergency := f.Urgency == home.Now && wordsFor(f).matter == health || f.Sign == home.RedFlagSeen
	if emergency && turn != home.Closed && !strings.Contains(body, "Go to a vet now") {
		t.Errorf("%s %s delays an emergency:\n%s", f.Sign, turn, body)
	}
}

func TestWords_EverySignHasItsOwn(t *testing.T) {
	for _, sign := range signs(t) {
		w, ok := words[sign]
		if !ok {
			t.Errorf("%s has no words", sign)
			continue
		}
		if utf8.RuneCountInString(w.short) > 14 {
			t.Errorf("%s: %q is too long for a subject", sign, w.short)
		}
	}
}

// No text of ours names a disease. The list is of those that the veterinary
// sources behind the thresholds are about; from memory, not exhaustive.
func TestWords_NoDisease(t *testing.T) {
	diseases := []string{"kidney", "renal", "thyroid", "diabet", "cancer", "tumour", "tumor", "lymphoma", "heart disease", "heart failure", "heart muscle", "cardi",
		"asthma", "lipidosis", "cystitis", "urethr", "obes", "failure", "disease", "infection", "anaemia", "pneumon"}
	var all strings.Builder
	for _, sign := range signs(t) {
		for _, turn := range turns {
			for _, u := range levels {
				f := atTurn(example(sign, u), turn)
				all.WriteString(Subject(f, juniper, turn) + "\n" + Words{}.Body(f, juniper, turn))
			}
		}
	}
	text := strings.ToLower(all.String())
	for _, d := range diseases {
		if strings.Contains(text, d) {
			t.Errorf("the words name %q", d)
		}
	}
}

func TestSubject_Names(t *testing.T) {
	f := example(home.WeightFalling, home.Today)
	tests := []struct{ name, want string }{
		// A long name is cut, the words after it are not.
		{"Her Serene Highness Juniper of the Upper Landing", "Reminder. Her Serene…: weight falling. Call the vet today."},
		// A name cannot start a header or a second line.
		{"Eve\r\nBcc: all@example.org", "Reminder. Eve Bcc: al…: weight falling. Call the vet today."},
		// Without a name it is the id.
		{" ", "Reminder. juniper: weight falling. Call the vet today."},
		// Runes count, not bytes.
		{"Ñoño", "Reminder. Ñoño: weight falling. Call the vet today."},
	}
	for _, tt := range tests {
		got := Subject(f, home.Cat{ID: "juniper", Name: tt.name}, home.Reminded)
		if got != tt.want {
			t.Errorf("%q:\n got %q\nwant %q", tt.name, got, tt.want)
		}
		if utf8.RuneCountInString(got) >= MaxSubject || strings.ContainsAny(got, "\r\n") {
			t.Errorf("%q: %q is no subject", tt.name, got)
		}
	}
}

func TestWords_Body_Units(t *testing.T) {
	f := example(home.WeightFalling, home.Book)
	tests := []struct {
		words Words
		want  string
	}{
		// Kilograms by default.
		{Words{}, "from 4.62 kg to 4.41 kg, 4.5 % less."},
		// 4.62 / 0.45359237 = 10.185, 4.41 / 0.45359237 = 9.722.
		{Words{Pounds: true}, "from 10.19 lb to 9.72 lb, 4.5 % less."},
		// A date is a date in the house.
		{Words{Zone: time.FixedZone("east", 16*3600)}, "about 13 October 2026"},
		// The pages say where a finding is.
		{Words{Base: "http://h", Link: func(id string) string { return "/f?" + id[:7] }}, "Where to look: http://h/f?juniper"},
	}
	for _, tt := range tests {
		if body := tt.words.Body(f, juniper, home.Raised); !strings.Contains(body, tt.want) {
			t.Errorf("no %q in\n%s", tt.want, body)
		}
	}
}

// What is not known is left out, not written as zero.
func TestWords_Body_Bare(t *testing.T) {
	body := Words{}.Body(home.Finding{Cat: "juniper", Sign: "fur-standing-up", Urgency: "odd"}, juniper, home.Raised)
	want := "Juniper: fur standing up.\n\nWhat to do: " + deeds[health][home.Today].full + "\n\nWatch for: anything that is not as usual.\n\n" + home.Caution + "\n"
	if body != want {
		t.Errorf("got\n%s\nwant\n%s", body, want)
	}
}

// Who stops watching has not seen anything pass: no word of the all-clear is said.
func TestSubject_ClosedUnwatched_SaysNothingPassed(t *testing.T) {
	for _, sign := range signs(t) {
		for _, reason := range []string{home.LeftHousehold, home.LearnedAnew} {
			f := closedCopy(example(sign, home.Book))
			f.Reason = reason
			name := nameOf(f, juniper)
			s, body := Subject(f, juniper, home.Closed), Words{}.Body(f, juniper, home.Closed)
			if !strings.Contains(s, "no longer watched") || utf8.RuneCountInString(s) >= MaxSubject || strings.Contains(s, "Over") {
				t.Errorf("subject %q", s)
			}
			if w := wordsFor(f); strings.Contains(body, fmt.Sprintf(w.closing, name)) || strings.Contains(body, "over:") || !strings.Contains(body, reason) {
				t.Errorf("%s: %s", sign, body)
			}
		}
	}
}
