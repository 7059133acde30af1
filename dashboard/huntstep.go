package dashboard

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// stepKind is where a hunt stands.
type stepKind string

// The steps of a hunt.
const (
	stepNothing stepKind = "nothing" // nothing is to be found
	stepCannot  stepKind = "cannot"  // what is measured does not serve
	stepReady   stepKind = "ready"   // a test is known, and nobody has begun
	stepFan     stepKind = "fan"     // the fan is off
	stepTell    stepKind = "tell"    // where a gate stands is not known
	stepMove    stepKind = "move"    // gates are to be moved
	stepSettle  stepKind = "settle"  // the air comes to rest
	stepMeasure stepKind = "measure" // it is measured
	stepEnough  stepKind = "enough"  // the test is done, and what it told is being reckoned
	stepFound   stepKind = "found"   // there is a place to look, and no test that would tell more
)

// huntStep is the one thing to do now.
type huntStep struct {
	Kind  stepKind
	Class string // of its edge
	Do    string // in the imperative, in large letters
	More  string
	Moves []gateMove
	Link  string // where it can be told, where that is asked for
	Done  int    // s of steady air
	Of    int    // s
}

// gateMove is one gate or hose to be moved, in the order in which it is safe.
type gateMove struct {
	Name, Verb string
	Known      bool // whether it is to be opened or shut
	Opens      bool
	Channel    string // set where the tool must be told by hand
	Value      string
}

// huntStep says what is to be done now.
func (s *server) huntStep(rq *request, c *watch.Collector, st state, latest map[string]reading.Reading, f *finding.Finding) huntStep {
	n := c.NextTest
	switch {
	case st.Stale:
		return huntStep{Kind: stepCannot, Class: "hatched", Do: "Wait: the readings are old.", More: "Nothing can be tested while none arrive."}
	case !c.Baseline.Complete:
		return huntStep{Kind: stepCannot, Class: "hatched", Do: "There is no baseline yet.", More: lacksBaseline(c.Baseline)}
	case f == nil:
		return huntStep{Kind: stepNothing, Do: "There is nothing to hunt for.", More: "No leak and no blockage has been found whose place is not known."}
	case n == nil:
		return foundStep(f.Where, "")
	case len(n.Tests) == 0:
		return foundStep(n.Suspects, n.Reason)
	case !c.Hunting:
		p := &n.Tests[0]
		return huntStep{Kind: stepReady, Do: "Begin when every machine stands still.",
			More: fmt.Sprintf("The first test: %s, for %s of steady air.", openText(p.Open), minutesText(p.Duration))}
	}
	return s.testStep(c, &n.Tests[0], latest)
}

// testStep leads through one test.
func (s *server) testStep(c *watch.Collector, p *estimate.Proposal, latest map[string]reading.Reading) huntStep {
	plan := s.collectorPlan(c.Name)
	if plan == nil {
		return huntStep{Kind: stepCannot, Class: "hatched", Do: "This collector is not in the shop file."}
	}
	if unknown := s.gatesUnknown(plan, latest); len(unknown) > 0 {
		out := huntStep{Kind: stepTell, Class: "hatched", Do: "Say where these stand.", Moves: unknown, Link: "/sensors",
			More: "Where they stand is not known, so that no test would count."}
		if len(s.handRows()) > 0 {
			out.Link = "/ducts#by-hand"
		}
		return out
	}
	moves := s.movesTo(plan, c.Now.Open, p, latest)
	switch {
	case len(moves) > 0:
		more := "In this order: a gate is opened before another is shut, so that the suction never rises further than in the test itself."
		if c.Now.FanOn {
			more += " If somebody works at one of them, end the hunt: no test while a machine cuts."
		}
		return huntStep{Kind: stepMove, Do: "Move these, and nothing else.", More: more, Moves: moves}
	case !c.Now.FanOn:
		return huntStep{Kind: stepFan, Do: "Start the fan.", More: "The gates stand right: " + openText(p.Open) + "."}
	}
	of, done := int(p.Duration.Seconds()), int(c.Standing.Seconds())
	out := huntStep{Do: "Leave everything as it is.", Done: min(done, of), Of: of}
	switch {
	case done == 0:
		out.Kind, out.More = stepSettle, "The air is coming to rest."
	case done < of:
		out.Kind, out.More = stepMeasure, fmt.Sprintf("%s of %s measured.", minutesText(c.Standing), minutesText(p.Duration))
	default:
		out.Kind, out.More = stepEnough, "Enough is measured. What it tells is being worked out; leave the gates as they are until the next step stands here."
	}
	return out
}

// foundStep ends the hunt with the places to look at.
func foundStep(where []finding.Place, reason string) huntStep {
	out := huntStep{Kind: stepFound, Class: "found", Do: "Look here.", More: reason}
	if len(where) == 0 {
		return out
	}
	where = finding.InSearchOrder(where)
	out.Do = "Look here: " + newPlaceLine(where[0]).Name + "."
	if where[0].Probability < 0.9 {
		out.Do = "Look here first: " + newPlaceLine(where[0]).Name + "."
		out.More = strings.TrimSpace(reason + " Then look at the others, in the order below, in which each look is worth most.")
	}
	return out
}

// gatesUnknown lists the gates and hoses of a collector of which nobody knows where they stand.
func (s *server) gatesUnknown(plan *shop.Collector, latest map[string]reading.Reading) []gateMove {
	var out []gateMove
	add := func(src *shop.Source, name, channel string) {
		if src != nil && src.Kind == shop.SourceFixed {
			return
		}
		if r, ok := latest[channel]; !ok || math.IsNaN(r.Value) {
			out = append(out, gateMove{Name: name, Verb: "not known"})
		}
	}
	for _, g := range plan.Gates {
		add(g.Position, g.Name, "gate/"+g.Name)
	}
	for _, l := range plan.Selectors {
		add(l.Position, l.Name, "selector/"+l.Name)
	}
	return out
}

// movesTo lists what must be moved to come to a test's gates: hoses first, then what opens, then what shuts, so that there
// are never fewer gates open than in the test.
func (s *server) movesTo(plan *shop.Collector, open []string, p *estimate.Proposal, latest map[string]reading.Reading) []gateMove {
	var out []gateMove
	for _, l := range plan.Selectors {
		want, ok := p.Ports[l.Name]
		if r, has := latest["selector/"+l.Name]; !ok || want < 1 || want > len(l.Ports) || has && r.Value == float64(want) {
			continue
		}
		out = append(out, byHand(l.Position, gateMove{Name: l.Name, Verb: "join it to " + l.Ports[want-1], Known: true, Opens: true}, "selector/"+l.Name, fmt.Sprint(want)))
	}
	for _, opens := range []bool{true, false} {
		for _, g := range plan.Gates {
			wanted, is := slices.Contains(p.Open, g.Name), slices.Contains(open, g.Name)
			if wanted == is || wanted != opens || g.Position != nil && g.Position.Kind == shop.SourceFixed {
				continue
			}
			m := gateMove{Name: g.Name, Verb: "shut", Known: true, Opens: opens}
			value := "0"
			if opens {
				m.Verb, value = "open", "1"
			}
			out = append(out, byHand(g.Position, m, "gate/"+g.Name, value))
		}
	}
	return out
}

// byHand adds to a move what the tool must be told, where it cannot see it.
func byHand(src *shop.Source, m gateMove, channel, value string) gateMove {
	if src != nil && src.Kind == shop.SourceByHand {
		m.Channel, m.Value = channel, value
	}
	return m
}

// openText says which gates are open in a test.
func openText(open []string) string {
	if len(open) == 0 {
		return "all gates shut"
	}
	return "only " + sentenceList(open) + " open"
}

// minutesText is a short time as people say it: "40 s", "3 min", "2 min 20 s".
func minutesText(d time.Duration) string {
	m, sec := int(d.Minutes()), int(d.Seconds())%60
	var out []string
	if m > 0 {
		out = append(out, fmt.Sprintf("%d\u00a0min", m))
	}
	if sec > 0 || m == 0 {
		out = append(out, fmt.Sprintf("%d\u00a0s", sec))
	}
	return strings.Join(out, " ")
}
