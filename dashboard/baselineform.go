package dashboard

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"ductward/internal/estimate"
	"ductward/internal/journal"
)

// baselineActions are what a person can do with a baseline. Each is a line in the logbook and nothing else: the watch
// makes of it what it makes of it live and in a rebuild alike.
var baselineActions = map[string]journal.Kind{
	"take":    journal.Baseline,
	"accept":  journal.BaselineAccepted,
	"reject":  journal.BaselineRejected,
	"restore": journal.BaselineRestored,
}

// baselineInput is what is to be done with a baseline, as a form or a program sends it.
type baselineInput struct {
	Action    string `json:"action"`
	Collector string `json:"collector"` // may be empty where the shop has only one
	Version   int    `json:"version"`   // of accept, reject and restore; 0 rejects the one in the making
	Note      string `json:"note"`
	By        string `json:"by"`
}

// setBaseline begins, accepts, rejects or brings back a baseline.
func (s *server) setBaseline(w http.ResponseWriter, r *http.Request) {
	in, err := readBaseline(r)
	if err == nil {
		err = s.checkBaseline(&in)
	}
	if err != nil {
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	line := entryInput{Kind: baselineActions[in.Action], Subject: in.Collector, Note: in.Note, By: in.By}
	if in.Version > 0 {
		line.Note = journal.VersionNote(in.Version, in.Note)
	}
	if err := s.checkEntry(&line); err != nil {
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	e := journal.Entry{Time: line.Time, Kind: line.Kind, Subject: line.Subject, Note: line.Note, By: line.By}
	number, err := s.Journal.AddJournal(e)
	if err != nil {
		s.trouble(w, r, fmt.Errorf("logbook line: %w", err))
		return
	}
	if isForm(r) {
		remember(w, line.By)
		to := "/setup?kept=" + in.Action
		if in.Action == "take" {
			to = "/setup/baseline?c=" + url.QueryEscape(in.Collector)
		}
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
	writeJSON(w, http.StatusCreated, newEntryDTO(e, int(number)))
}

// readBaseline takes it from a form or from JSON.
func readBaseline(r *http.Request) (in baselineInput, err error) {
	if !isForm(r) {
		return in, readJSON(r, &in)
	}
	if err := r.ParseForm(); err != nil {
		return in, fmt.Errorf("the form could not be read: send it again, in at most %d bytes", maxBody)
	}
	f := r.PostForm
	in = baselineInput{Action: f.Get("action"), Collector: f.Get("collector"), Note: f.Get("note"), By: f.Get("by")}
	if text := f.Get("version"); text != "" {
		if in.Version, err = strconv.Atoi(text); err != nil {
			return in, fmt.Errorf("version %q is not a number: the set-up page lists those that there are", text)
		}
	}
	return in, nil
}

// checkBaseline refuses what would have no effect, and says why.
func (s *server) checkBaseline(in *baselineInput) error {
	in.Note = strings.TrimSpace(in.Note)
	if _, ok := baselineActions[in.Action]; !ok {
		return fmt.Errorf("action %q is not known: write one of take, accept, reject, restore", in.Action)
	}
	if in.Collector == "" && len(s.Shop.Collectors) == 1 {
		in.Collector = s.Shop.Collectors[0].Name
	}
	if s.collectorPlan(in.Collector) == nil {
		return fmt.Errorf("collector %q is not in the shop file: write the name of one that is", in.Collector)
	}
	rq := &request{snap: s.Watch.Snapshot()}
	c := rq.collector(in.Collector)
	if c == nil {
		return fmt.Errorf("nothing is known of collector %q yet: wait until the record has been read", in.Collector)
	}
	if in.Action == "take" {
		in.Version = 0
		return nil
	}
	return checkVersion(in, &c.Baseline)
}

// checkVersion refuses a version that there is not.
func checkVersion(in *baselineInput, b *estimate.Baseline) error {
	if in.Version == 0 && in.Action == "reject" {
		if b.Complete && !b.Asked.New {
			return fmt.Errorf("no baseline is in the making: name the version that is to be rejected")
		}
		return nil
	}
	for _, v := range b.Versions {
		if v.Version == in.Version {
			return nil
		}
	}
	return fmt.Errorf("there is no version %d of the baseline of collector %q: there are %d", in.Version, in.Collector, len(b.Versions))
}
