package dashboard

import (
	"bytes"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"time"

	"ductward/internal/caution"
	"ductward/internal/watch"
)

// sitePage is one page with what makes its content.
type sitePage struct {
	Path  string
	Name  string // in the navigation; "": another page leads there
	Title string // the question that the page answers
	file  string // template
	view  func(*server, *request) (any, error)
}

// sitePages lists the pages in the order in which they are offered: what is asked daily stands first.
var sitePages = []sitePage{
	{"/{$}", "Now", "Now", "now.html", (*server).nowView},
	{"/findings", "Findings", "Findings and alarms", "findings.html", (*server).findingsView},
	{"/alarms", "Alarms", "Alarms, and who is told", "alarms.html", (*server).alarmsView},
	{"/filter", "Filter", "Filter", "filter.html", (*server).filterView},
	{"/leaks", "Leaks", "Leaks", "leaks.html", (*server).leaksView},
	{"/hunt", "Leak hunt", "Leak hunt", "hunt.html", (*server).huntView},
	{"/ducts", "Ducts", "Ducts", "ducts.html", (*server).ductsView},
	{"/history", "History", "History", "history.html", (*server).historyView},
	{"/logbook", "Logbook", "Logbook", "logbook.html", (*server).logbookView},
	{"/pack", "Pack", "Record for an examiner", "pack.html", (*server).packView},
	{"/sensors", "Sensors", "Sensors", "sensors.html", (*server).sensorsView},
	{"/setup", "Set-up", "Set-up", "setup.html", (*server).setupView},
	{"/setup/baseline", "", "A new baseline, step by step", "walk.html", (*server).walkView},
}

// request is what the views of one request share: one snapshot and one moment, so that a page agrees with itself.
type request struct {
	*http.Request
	snap *watch.Snapshot // nil: nothing is known yet
	now  time.Time
}

// frame is what every page's template gets; Body is the page's own view.
type frame struct {
	Shop    string
	Title   string
	Nav     []navItem
	Path    string
	Version string
	SignIn  bool   // whoever writes signs in
	Plain   bool   // and may do so over a line that is not encrypted
	Made    string // when the page was made, local
	Units   string // what numbers are shown in
	Back    string // the page's own address
	Body    any
}

// navItem is one link of the navigation.
type navItem struct {
	Href, Name string
	Here       bool
}

// loadPages parses each page with the frame around it.
func (s *server) loadPages() (map[string]*template.Template, error) {
	funcs := template.FuncMap{"asset": s.assetURL, "card": withName, "ack": newAckForm, "older": newRestoreForm,
		"notsafety": func() string { return caution.NoInstrument.Text },
		"segment":   url.PathEscape} // a finding's name holds slashes, and a template keeps those of an address
	base, err := template.New("base.html").Funcs(funcs).ParseFS(files, "templates/base.html", "templates/part_*.html")
	if err != nil {
		return nil, fmt.Errorf("dashboard: embedded templates: %w", err)
	}
	out := map[string]*template.Template{}
	names := []string{"message.html", signInPage.file}
	for _, p := range sitePages {
		names = append(names, p.file)
	}
	for _, name := range names {
		t, err := base.Clone()
		if err == nil {
			t, err = t.ParseFS(files, "templates/"+name)
		}
		if err != nil {
			return nil, fmt.Errorf("dashboard: embedded template %q: %w", name, err)
		}
		out[name] = t
	}
	return out, nil
}

// cardView is a finding with the name that its form starts with.
type cardView struct {
	Card findingCard
	By   string
}

func withName(c findingCard, by string) cardView { return cardView{c, by} }

// ackForm is the form that acknowledges an alarm.
type ackForm struct{ ID, By string }

func newAckForm(id, by string) ackForm { return ackForm{id, by} }

// newRequest takes the snapshot and the moment that a whole answer is made from.
func (s *server) newRequest(r *http.Request) *request {
	return &request{Request: r, snap: s.Watch.Snapshot(), now: s.Clock.Now()}
}

// page returns the handler of one page.
func (s *server) page(p sitePage) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		s := s.as(r)
		rq := s.newRequest(r)
		body, err := p.view(s, rq)
		if err != nil {
			s.trouble(w, r, err)
			return
		}
		s.render(w, r, http.StatusOK, p.file, s.frame(rq, p, body))
	}
}

// frame puts the navigation around a page's body.
func (s *server) frame(rq *request, p sitePage, body any) frame {
	f := frame{Shop: s.Shop.Name, Title: p.Title, Path: strings.TrimSuffix(p.Path, "{$}"), Version: s.Version,
		SignIn: s.Gate != nil, Plain: s.Gate != nil && s.Gate.Plain, Made: s.clockTime(rq.now), Units: s.system, Back: "/", Body: body}
	if p.Path != "" { // a page that one can come back to
		f.Back = rq.URL.RequestURI()
	}
	for _, q := range sitePages {
		if q.Name == "" {
			continue
		}
		f.Nav = append(f.Nav, navItem{strings.TrimSuffix(q.Path, "{$}"), q.Name, q.Path == p.Path || p.Name == "" && strings.HasPrefix(p.Path, q.Path+"/")})
	}
	return f
}

// render makes the whole page before the first byte goes out, so that a failing template never sends half a page.
func (s *server) render(w http.ResponseWriter, r *http.Request, status int, file string, f frame) {
	var b bytes.Buffer
	if err := s.pages[file].ExecuteTemplate(&b, "base.html", f); err != nil {
		s.Log.Error("page not made", "path", r.URL.Path, "error", err)
		http.Error(w, "this page could not be made; the log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // the client may have gone; there is nobody left to tell
}

// trouble tells a failure of ours: the person gets what to do, the log gets the cause.
func (s *server) trouble(w http.ResponseWriter, r *http.Request, err error) {
	s.Log.Error("request failed", "path", r.URL.Path, "error", err)
	s.fail(w, r, http.StatusInternalServerError, "the records could not be read just now: try again, and if it stays so, look at the log of the service")
}

// notFound tells which pages there are.
func (s *server) notFound(w http.ResponseWriter, r *http.Request) {
	s.fail(w, r, http.StatusNotFound, "there is no such page here: choose one from the list above")
}

// fail answers with a message, as JSON under /api/ and as a page elsewhere.
func (s *server) fail(w http.ResponseWriter, r *http.Request, status int, text string) {
	if wantsJSON(r) {
		writeJSON(w, status, map[string]string{"error": text})
		return
	}
	s = s.as(r)
	rq := s.newRequest(r)
	s.render(w, r, status, "message.html", s.frame(rq, sitePage{Title: http.StatusText(status)}, text))
}
