package dashboard

import (
	"bytes"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"ductward/internal/caution"
	"ductward/internal/estimate"
	"ductward/internal/steady"
	"ductward/internal/watch"
)

// stepTime is how long a gate set of the walk is to stand: the 20 s that a change needs to settle, and a minute and a half
// of steady air, which is beyond the knee of what more of it would tell.
const stepTime = 2 * time.Minute

// walkBody is the content of the page that takes a new baseline step by step.
type walkBody struct {
	Collector  string
	Sentence   string
	By         string
	Begin      bool // nothing is in the making: it can be asked for
	GiveUp     bool // it can be given up
	Judge      int  // version that waits for a person's word; 0: none
	Before     int
	Misfit     string
	Asked      string
	Facts      []fact
	Step       *walkStep // what to do now; nil: nothing more
	Steps      []walkStep
	Others     []string // the shop's other collectors
	Cautions   []string
	ByHand     bool
	NoDrawing  bool
	FanOff     bool
	EachDay    string // what brings the rest
	StepsAsked int    // that are to be walked
	StepsDone  int
}

// walkStep is one step in words.
type walkStep struct {
	Machine, Do, State, Class string
	Here                      bool // the gates stand so now
	Enough                    bool // and have stood long enough
}

// walkView leads through the taking of a new baseline.
func (s *server) walkView(rq *request) (any, error) {
	b := walkBody{By: remembered(rq.Request), Cautions: texts(caution.MachinesIdle, caution.LockOutToOpen, caution.AllGates, caution.Authority), ByHand: len(s.handRows()) > 0}
	name := rq.URL.Query().Get("c")
	if name == "" && len(s.Shop.Collectors) > 0 {
		name = s.Shop.Collectors[0].Name
	}
	b.Collector = name
	for _, c := range s.Shop.Collectors {
		if c.Name != name {
			b.Others = append(b.Others, c.Name)
		}
	}
	c := rq.collector(name)
	if c == nil {
		b.Sentence = "Nothing is known of this collector yet: the record is still being read."
		return b, nil
	}
	s.fillWalk(rq, &b, c)
	return b, nil
}

// fillWalk puts the state of the baseline and the next step into words.
func (s *server) fillWalk(rq *request, b *walkBody, c *watch.Collector) {
	x := &c.Baseline
	v := s.baselineView(rq, c)
	b.Asked, b.Judge, b.Before, b.Misfit = v.Asked, v.Judge, v.Before, misfitText(x.MisfitRMS)
	b.Begin = x.Complete && !x.Asked.New
	b.NoDrawing = len(x.Walk) == 0 && !b.Begin
	b.Sentence = v.State
	if b.Begin {
		return
	}
	b.GiveUp = x.Complete || len(x.Versions) > 0
	b.Facts = progressFacts(x)
	b.FanOff = !c.Now.FanOn
	for _, st := range x.Walk {
		w := newWalkStep(st, &c.Now)
		if w.Class != "refused" {
			b.StepsAsked++
		}
		if st.Done {
			b.StepsDone++
		}
		b.Steps = append(b.Steps, w)
	}
	b.Step = nextStep(b.Steps)
	b.EachDay = "The rest comes by itself: work as usual. Each day with at least four steady runs counts."
	if b.StepsAsked > 0 {
		b.Sentence = fmt.Sprintf("Walk through the gates: %d of %d seen. ", b.StepsDone, b.StepsAsked) + v.State
	}
}

// newWalkStep puts a step into words.
func newWalkStep(st estimate.Step, now *estimate.Now) walkStep {
	w := walkStep{Machine: st.Machine, Do: stepWords(st)}
	w.Here = now.FanOn && now.Set != "" && now.Set == st.Set
	switch {
	case st.Done:
		w.State, w.Class = "seen", "done"
	case !st.Rated && !st.Borne:
		w.State, w.Class = "not proposed: the ducts’ rating for negative pressure is not entered", "refused"
	case !st.Borne:
		w.State, w.Class = "not proposed: the suction may exceed what the ducts are rated for", "refused"
	case w.Here:
		w.State, w.Class = standsText(now), "here"
		w.Enough = now.Settled && now.Stands >= stepTime
	default:
		w.State, w.Class = "to do", "open"
	}
	return w
}

// standsText says how long the gates have stood as a step asks.
func standsText(now *estimate.Now) string {
	if !now.Settled {
		return "the gates stand so; the air is still settling"
	}
	if now.Stands >= stepTime {
		return "long enough: open the next one"
	}
	return "steady for " + age(now.Stands) + ": wait for " + age(stepTime)
}

// stepWords says what to open: before the others are shut, so that never every gate is.
func stepWords(st estimate.Step) string {
	text := "Leave every gate shut: " + st.Machine + " has none"
	if len(st.Open) > 0 {
		text = "Open " + sentenceList(st.Open) + " first, then shut all others"
	}
	for _, p := range joined(st.Ports) {
		text += fmt.Sprintf("; %s to port %d", p.Selector, p.Port)
	}
	return text + "."
}

// joined are the selectors that a step joins to a port.
func joined(ports []steady.Port) []steady.Port {
	return slices.DeleteFunc(slices.Clone(ports), func(p steady.Port) bool { return p.Port == 0 })
}

// nextStep is the one that stands now, else the first that is still to do.
func nextStep(steps []walkStep) *walkStep {
	for i := range steps {
		if steps[i].Class == "here" && !steps[i].Enough {
			return &steps[i]
		}
	}
	for i := range steps {
		if steps[i].Class == "open" {
			return &steps[i]
		}
	}
	for i := range steps {
		if steps[i].Class == "here" { // the last one: it counts when the gates have moved
			return &steps[i]
		}
	}
	return nil
}

// liveWalk answers with the part of the walk that changes, for the page's script.
func (s *server) liveWalk(w http.ResponseWriter, r *http.Request) {
	view, err := s.walkView(s.newRequest(r))
	var b bytes.Buffer
	if err == nil {
		err = s.pages["walk.html"].ExecuteTemplate(&b, "walk", view)
	}
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(bytes.TrimLeft(b.Bytes(), "\n")) // the client may have gone; there is nobody left to tell
}

// baselineKept says what has just been written down about a baseline.
func baselineKept(action string) string {
	a, ok := baselineActions[action]
	if !ok {
		return ""
	}
	return strings.ToLower(entryTitle(a))
}
