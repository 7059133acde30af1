package dashboard

import (
	"strings"
)

// setupBody is the content of the set-up page.
type setupBody struct {
	Sentence string
	By       string
	Kept     string // what has just been written down
	Parts    []setupPart
	File     shopFile
}

// setupPart is one collector's set-up.
type setupPart struct {
	Name     string // "" where the shop has only one
	Key      string // its name for forms
	Baseline baselineView
	Promise  *promiseView
	Levels   []level
	Lacks    []string
}

// setupView shows the shop file as it was read, what is lacking, and the baseline.
func (s *server) setupView(rq *request) (any, error) {
	b := setupBody{By: remembered(rq.Request), Kept: baselineKept(rq.URL.Query().Get("kept")), File: s.file}
	var lead []string
	for _, plan := range s.Shop.Collectors {
		p := setupPart{Key: plan.Name, Levels: levels(plan)}
		if len(s.Shop.Collectors) > 1 {
			p.Name = plan.Name
		}
		c := rq.collector(plan.Name)
		if c == nil {
			p.Baseline.State = "Nothing is known yet: the record is still being read."
		} else {
			p.Baseline, p.Lacks = s.baselineView(rq, c), c.Lacks
			p.Promise = s.promiseView(c)
		}
		text := p.Baseline.State
		if p.Name != "" {
			text = p.Name + ": " + text
		}
		lead = append(lead, text)
		b.Parts = append(b.Parts, p)
	}
	b.Sentence = strings.Join(append(lead, s.file.Sentence), " ")
	return b, nil
}
