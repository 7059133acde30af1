package dashboard

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"ductward/internal/journal"
)

// The longest names and notes that are kept, in characters.
const (
	maxName = 80
	maxNote = 1000
)

// nameCookie remembers who last wrote from this browser, so that a logbook line takes two taps. It proves nothing.
const nameCookie = "ductward_name"

// entryInput is a logbook line as a form or a program sends it.
type entryInput struct {
	Time    time.Time    `json:"time"` // zero: now
	Kind    journal.Kind `json:"kind"`
	Subject string       `json:"subject"`
	Note    string       `json:"note"`
	By      string       `json:"by"`

	Corrects uint64         `json:"corrects,omitempty"` // number of the entry in whose place it stands
	Result   journal.Result `json:"result,omitempty"`   // of a check
	Action   string         `json:"action,omitempty"`
}

// addEntry keeps a logbook line.
func (s *server) addEntry(w http.ResponseWriter, r *http.Request) {
	in, err := s.readEntry(r)
	if err == nil {
		err = s.checkEntry(&in)
	}
	if err != nil {
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	e := journal.Entry{Time: in.Time, Kind: in.Kind, Subject: in.Subject, Note: in.Note, By: in.By, Corrects: in.Corrects,
		Result: in.Result, Action: in.Action}
	number, err := s.Journal.AddJournal(e)
	if err != nil {
		s.trouble(w, r, fmt.Errorf("logbook line: %w", err))
		return
	}
	if isForm(r) {
		remember(w, in.By)
		http.Redirect(w, r, "/logbook?kept="+url.QueryEscape(string(in.Kind)), http.StatusSeeOther)
		return
	}
	writeJSON(w, http.StatusCreated, newEntryDTO(e, int(number)))
}

// readEntry takes the line from a form or from JSON.
func (s *server) readEntry(r *http.Request) (entryInput, error) {
	var in entryInput
	if !isForm(r) {
		return in, readJSON(r, &in)
	}
	if err := r.ParseForm(); err != nil {
		return in, fmt.Errorf("the form could not be read: send it again, in at most %d bytes", maxBody)
	}
	in = entryInput{Kind: journal.Kind(r.PostForm.Get("kind")), Subject: r.PostForm.Get("subject"),
		Note: r.PostForm.Get("note"), By: r.PostForm.Get("by")}
	in.Result, in.Action = journal.Result(r.PostForm.Get("result")), r.PostForm.Get("action")
	if n := r.PostForm.Get("corrects"); n != "" {
		var err error
		if in.Corrects, err = strconv.ParseUint(n, 10, 64); err != nil {
			return in, fmt.Errorf("entry %q is not a number: the record shows the number of each entry", n)
		}
	}
	if at := r.PostForm.Get("time"); at != "" {
		t, err := time.ParseInLocation("2006-01-02T15:04", at, s.local(s.Clock.Now()).Location())
		if err != nil {
			return in, fmt.Errorf("time %q cannot be read: write it as 2026-03-14T08:30, or leave it empty for now", at)
		}
		in.Time = t
	}
	return in, nil
}

// checkEntry refuses what the logbook cannot keep, and says what to write instead.
func (s *server) checkEntry(in *entryInput) error {
	in.By, in.Note, in.Subject = strings.TrimSpace(in.By), strings.TrimSpace(in.Note), strings.TrimSpace(in.Subject)
	in.Action = strings.TrimSpace(in.Action)
	if in.Time.IsZero() {
		in.Time = s.Clock.Now()
	}
	switch {
	case !slices.Contains(journal.Kinds, in.Kind):
		return fmt.Errorf("kind %q is not one of %v", in.Kind, journal.Kinds)
	case in.Subject != "" && !slices.Contains(s.subjects(), in.Subject):
		return fmt.Errorf("subject %q is not in the shop file: choose a collector, machine, gate, run or sensor, or leave it empty", in.Subject)
	case in.Result != "" && (in.Kind != journal.Check || !slices.Contains(journal.Results, in.Result)):
		return fmt.Errorf("result %q is not one of %q, or this is no check", in.Result, journal.Results)
	case utf8.RuneCountInString(in.Note) > maxNote || utf8.RuneCountInString(in.Action) > maxNote:
		return fmt.Errorf("the note is longer than %d characters: shorten it, or write two lines", maxNote)
	case in.Time.After(s.Clock.Now().Add(time.Minute)):
		return errors.New("the time lies in the future: a logbook line says what was done, not what is planned")
	}
	if err := (journal.Entry{Kind: in.Kind, Note: in.Note}).Check(); err != nil {
		return err
	}
	if err := s.checkCorrection(in.Corrects); err != nil {
		return err
	}
	return checkName(in.By)
}

// checkCorrection refuses to correct an entry that is not there, or one of the tool's.
func (s *server) checkCorrection(number uint64) error {
	if number == 0 {
		return nil
	}
	entries, err := s.Journal.Journal()
	switch {
	case err != nil:
		return errors.New("the logbook cannot be read just now, so that nothing in it can be corrected: try again")
	case number > uint64(len(entries)):
		return fmt.Errorf("there is no entry %d: the logbook has %d", number, len(entries))
	case entries[number-1].Kind.Own():
		return fmt.Errorf("entry %d is the tool's own: write another entry beside it", number)
	}
	return nil
}

// checkName asks for the name of the person, since a record without one is worth little.
func checkName(by string) error {
	switch {
	case by == "":
		return errors.New("by is empty: write your name, so that the record says who did it")
	case utf8.RuneCountInString(by) > maxName || !utf8.ValidString(by):
		return fmt.Errorf("by is not a name of at most %d characters", maxName)
	}
	return nil
}

// acknowledge notes that a named person has seen an alarm.
func (s *server) acknowledge(w http.ResponseWriter, r *http.Request) {
	var in struct {
		By string `json:"by"`
	}
	err := error(nil)
	if isForm(r) {
		err = r.ParseForm()
		in.By = r.PostForm.Get("by")
	} else {
		err = readJSON(r, &in)
	}
	in.By = strings.TrimSpace(in.By)
	if err == nil {
		err = checkName(in.By)
	}
	if err != nil {
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	id := r.PathValue("id")
	if !s.hasAlarm(id) {
		s.fail(w, r, http.StatusNotFound, fmt.Sprintf("there is no alarm %q: it may have been put away since the page was made", id))
		return
	}
	a, err := s.Alarms.Acknowledge(id, in.By, s.Clock.Now())
	if err != nil {
		s.fail(w, r, http.StatusConflict, err.Error())
		return
	}
	if isForm(r) {
		remember(w, in.By)
		http.Redirect(w, r, "/findings", http.StatusSeeOther)
		return
	}
	writeJSON(w, http.StatusOK, s.newAlarmDTO(a))
}

// hasAlarm tells whether an alarm of that name is kept.
func (s *server) hasAlarm(id string) bool {
	for _, a := range s.Alarms.List() {
		if a.ID == id {
			return true
		}
	}
	return false
}

// readJSON reads one object and refuses keys that it does not know: a misspelt key would be lost unseen.
func readJSON(r *http.Request, into any) error {
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("the body is not the JSON object that this address takes: %w", err)
	}
	return nil
}

// remember keeps the name in the browser for a year.
func remember(w http.ResponseWriter, by string) {
	http.SetCookie(w, &http.Cookie{Name: nameCookie, Value: url.QueryEscape(by), Path: "/", MaxAge: 365 * 24 * 3600,
		HttpOnly: true, SameSite: http.SameSiteStrictMode})
}

// remembered is the name that this browser last wrote, or "".
func remembered(r *http.Request) string {
	c, err := r.Cookie(nameCookie)
	if err != nil {
		return ""
	}
	by, err := url.QueryUnescape(c.Value)
	if err != nil || checkName(by) != nil {
		return ""
	}
	return by
}
