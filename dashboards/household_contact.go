package dashboards

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// contactForm is one way to reach one person, as a browser shows and sends it.
type contactForm struct {
	ID, Way, Least, Digest, QuietFrom, QuietTo, After, For string
	MailTo, Server, Encrypt, User, From, Topic, TopicUser  string
	Secret                                                 string // as sent; never shown
	New                                                    bool
	Ways                                                   []home.ContactWay
	Urgencies                                              []home.Urgency
	Others                                                 []string // whom it can stand in for
}

func (contactForm) template() (name, title string) {
	return "household-contact.html", "Somebody who is told"
}

func (f *contactForm) choices(p *pages, h home.Household) {
	f.Ways = home.ContactWays()
	f.Urgencies = []home.Urgency{home.Mention, home.Book, home.Today, home.Now}
	f.Others = slices.Clone(p.opts.Householder.Channels())
	for _, c := range h.Contacts {
		f.Others = append(f.Others, c.ID)
	}
	f.Others = slices.DeleteFunc(f.Others, func(name string) bool { return name == f.ID })
}

func (contactForm) filled(p *pages, h home.Household, id string) (form, bool) {
	f := &contactForm{ID: id, New: id == "", Least: string(home.Mention), Encrypt: "starttls"}
	f.choices(p, h)
	c, ok := h.Contact(id)
	if !ok {
		return f, id == ""
	}
	f.Way, f.Digest, f.QuietFrom, f.QuietTo, f.For = string(c.Way), c.Digest, c.QuietFrom, c.QuietTo, c.For
	f.Server, f.From = c.Server, c.From
	if c.Least != "" {
		f.Least = string(c.Least)
	}
	if c.Encrypt != "" {
		f.Encrypt = c.Encrypt
	}
	if c.After > 0 {
		f.After = lengthText(c.After)
	}
	if c.Way == home.ByTopic {
		f.Topic, f.TopicUser = c.To, c.User
	} else {
		f.MailTo, f.User = c.To, c.User
	}
	return f, true
}

// lengthText is d as it is typed.
func lengthText(d time.Duration) string {
	switch {
	case d%time.Hour == 0:
		return fmt.Sprintf("%dh", d/time.Hour)
	case d%time.Minute == 0:
		return fmt.Sprintf("%dm", d/time.Minute)
	}
	return d.String()
}

// reachWords is how messages go, in words.
func reachWords(w home.ContactWay) string {
	return map[home.ContactWay]string{home.ByMail: "by mail", home.ByService: "by a message service", home.ByWebhook: "to an address that takes JSON",
		home.ByTopic: "to a topic of the broker"}[w]
}

// leastWords is what somebody is told, in words.
func leastWords(u home.Urgency) string {
	return map[home.Urgency]string{home.Mention: "everything", home.Book: "what needs an appointment or is more urgent",
		home.Today: "what needs a call today or is more urgent", home.Now: "only what says to go now"}[u]
}

func (f *contactForm) sent(r *http.Request) {
	v := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	*f = contactForm{ID: v("id"), Way: v("way"), Least: v("least"), Digest: v("digest"), QuietFrom: v("quiet_from"), QuietTo: v("quiet_to"), After: v("after"),
		For: v("for"), MailTo: v("mail_to"), Server: v("server"), Encrypt: v("tls"), User: v("user"), From: v("from"), Topic: v("topic"), TopicUser: v("user_topic"),
		Secret: v("secret_" + v("way")), New: v("new") != ""}
}

// contact is what the form says, without what another way would need.
func (f *contactForm) contact() (c home.Contact, badAfter bool) {
	c = home.Contact{ID: f.ID, Way: home.ContactWay(f.Way), Least: home.Urgency(f.Least), Digest: f.Digest, QuietFrom: f.QuietFrom, QuietTo: f.QuietTo, For: f.For}
	switch c.Way {
	case home.ByMail:
		c.To, c.Server, c.Encrypt, c.User, c.From = f.MailTo, f.Server, f.Encrypt, f.User, f.From
	case home.ByTopic:
		c.To, c.User = f.Topic, f.TopicUser
	}
	if f.After != "" {
		d, err := time.ParseDuration(f.After)
		c.After, badAfter = d, err != nil || d <= 0
	}
	return c, badAfter
}

func (f *contactForm) into(ctx context.Context, p *pages, h home.Household) (home.Household, map[string]string) {
	f.choices(p, h)
	wrong := map[string]string{}
	c, badAfter := f.contact()
	_, known := h.Contact(f.ID)
	switch {
	case home.ValidID("the name", f.ID) != nil:
		wrong["id"] = sentence(home.ValidID("the name", f.ID))
	case f.New && (known || slices.Contains(p.opts.Householder.Channels(), f.ID)):
		wrong["id"] = "Somebody else who is told has this name."
	}
	if f.Way == "" {
		wrong["way"] = "Choose how the messages are to go."
	}
	if badAfter {
		wrong["after"] = "That is no length of time: write it as 30m or 2h."
	}
	if f.For != "" && f.After == "" {
		wrong["after"] = "Say after how long, as 2h."
	}
	if len(wrong) == 0 {
		if err := c.Valid(); err != nil {
			wrong[""] = sentence(err)
		} else if err := p.opts.Householder.Reach(ctx, c, f.Secret); err != nil {
			wrong["reach"] = sentence(err)
			if hint := home.Hint(err); hint != "" {
				wrong["reach"] += " " + hint
			}
		}
	}
	h.Contacts = put(h.Contacts, c, func(o home.Contact) bool { return o.ID == c.ID })
	return h, wrong
}

func (f *contactForm) without(h home.Household) home.Household {
	h.Contacts = slices.DeleteFunc(slices.Clone(h.Contacts), func(c home.Contact) bool { return c.ID == f.ID })
	for i, c := range h.Contacts { // nobody stands in for who is gone: they are then told for themselves
		if c.For == f.ID {
			h.Contacts[i].For, h.Contacts[i].After = "", 0
		}
	}
	return h
}

func (f *contactForm) only(h home.Household) home.Household {
	return home.Household{Contacts: slices.DeleteFunc(slices.Clone(h.Contacts), func(c home.Contact) bool { return !f.New && c.ID != f.ID })}
}
