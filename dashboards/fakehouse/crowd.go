package fakehouse

import (
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// Crowd is a house that strains a page: twelve cats, a name that is one long
// word, a name in another script, a cat with one reading and one with a gap of
// a year.
func Crowd() *House {
	h := Empty()
	h.Trends = map[string][]home.TrendPoint{}
	for i := range 12 {
		id := fmt.Sprintf("cat-%02d", i)
		h.Home.Cats = append(h.Home.Cats, home.Cat{ID: id, Name: fmt.Sprintf("Cat %d", i)})
		h.Outlooks[id] = home.Outlook{Cat: id, AsOf: Now, Unknown: []string{"Nothing is known yet: no weighing and no check."}}
	}
	h.Outlooks["cat-03"] = home.Outlook{Cat: "cat-03", AsOf: Now, Weight: home.Figure{Known: true, Value: 4.54, Lo: 4.5, Hi: 4.58}, LastKg: Now.Add(-time.Hour)}
	h.Home.Cats[0].Name = strings.Repeat("Wollknäuel", 9)
	h.Home.Cats[1].Name = "قطة صغيرة"
	h.Home.Scales = []home.Scale{{ID: "a-scale-with-a-very-long-name-that-somebody-thought-was-a-joke", Kind: home.Floor}}
	h.Home.Contacts = []home.Contact{
		{ID: "ada-by-the-old-telephone-in-the-hall-that-nobody-else-answers", Way: home.ByService, Least: home.Book, Digest: "08:00"},
		{ID: "ben", Way: home.ByMail, Server: "mail.example.org:587", From: "cats@example.org", To: "ben@example.org", After: 2 * time.Hour, For: "lamp"},
	}
	h.Weighed = append(h.Weighed, home.Weighing{Cat: "cat-02", Source: home.Hand, Time: Now.AddDate(0, 0, -3), Kg: 4.1, Confidence: 1})
	for d := range 300 {
		at := Now.AddDate(0, 0, -700+d)
		if d >= 150 {
			at = at.AddDate(0, 0, 400) // a year and more without a word
		}
		kg := 4.5 + 0.02*float64(d%5)
		h.Weighed = append(h.Weighed, home.Weighing{Cat: "cat-03", Source: h.Home.Scales[0].ID, Time: at, Kg: kg, SDKg: 0.02, Confidence: 1})
		h.Trends["cat-03"] = append(h.Trends["cat-03"], home.TrendPoint{Time: at, Value: 4.54, Lo: 4.5, Hi: 4.58})
	}
	sortByTime(h.Weighed)
	now := home.Finding{Cat: "cat-00", Sign: home.RedFlagSeen, Urgency: home.Now, Raised: Now.Add(-time.Minute),
		Text: "Breathing with an open mouth was seen at a home check. Go to a vet now, whatever else is written here."}
	h.Found = []home.Finding{now}
	return h
}
