package dashboard

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"ductward/internal/caution"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/watch"
)

// huntBody is the content of the leak hunt's page: one section a collector.
type huntBody struct {
	Age     string
	Problem string // why what was asked for was not done
	Parts   []huntPart
}

// huntPart is one collector's hunt. What is outside of Live holds the forms, which must not change under a thumb.
type huntPart struct {
	Name, Collector string
	Live            huntLive
	Begin, End, Log bool // which form stands below
	By              string
	Checks          []checkLine
}

// huntLive is the part that changes by itself.
type huntLive struct {
	Step     huntStep
	Finding  string // what is looked for
	Title    string
	Places   []zoneRow
	Left     string // how far the places are narrowed
	Why      string
	Note     string
	Drawing  drawing
	Action   string
	Cautions []string
}

// huntView leads a person through the tests that narrow a finding's place, one thing a screen.
func (s *server) huntView(rq *request) (any, error) {
	b := s.huntSteps(rq)
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("leak hunt: %w", err)
	}
	b.Problem = rq.URL.Query().Get("problem")
	for i := range b.Parts {
		p, c := &b.Parts[i], &rq.snap.Collectors[i]
		p.By, p.Checks = remembered(rq.Request), s.checkLines(rq, c)
		p.End = hunting(c, entries, rq.now)
		p.Begin = !p.End && p.Live.Step.Kind == stepReady
		p.Log = p.Live.Step.Kind == stepFound
	}
	return b, nil
}

// huntSteps is what changes by itself on the page.
func (s *server) huntSteps(rq *request) *huntBody {
	b := &huntBody{Age: s.beatOf(rq)}
	if rq.snap == nil {
		return b
	}
	latest := s.Readings.Latest()
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		p := huntPart{Collector: c.Name, Live: s.huntLive(rq, c, latest, i)}
		if len(s.Shop.Collectors) > 1 {
			p.Name = c.Name
		}
		b.Parts = append(b.Parts, p)
	}
	return b
}

// heard is the longest that the watch takes to tell of a line in the logbook.
const heard = 10 * time.Second

// hunting tells whether a hunt goes on: as the newest line says, which the watch may not have heard of yet, else as the watch
// says, which also ends hunts that were forgotten.
func hunting(c *watch.Collector, entries []journal.Entry, now time.Time) bool {
	for _, e := range slices.Backward(entries) {
		if e.Time.Before(now.Add(-heard)) {
			break
		}
		if e.Subject == c.Name && (e.Kind == journal.LeakHunt || e.Kind == journal.LeakHuntEnded) {
			return e.Kind == journal.LeakHunt
		}
	}
	return c.Hunting
}

// huntLive puts one collector's hunt into words.
func (s *server) huntLive(rq *request, c *watch.Collector, latest map[string]reading.Reading, i int) huntLive {
	st := s.stateOf(rq, c, latest)
	f := huntedFinding(c)
	out := huntLive{Step: s.huntStep(rq, c, st, latest, f)}
	if f == nil {
		return out
	}
	out.Title, out.Finding, out.Cautions = kindTitle(f.Kind), s.proper(f.Text), huntCautions(out.Step.Kind, f)
	places, size := suspects(c, f), estimate.Value{V: f.Size, SE: (f.SizeHigh - f.SizeLow) / (2 * ninety)}
	out.Left = narrowedText(places)
	if out.Step.Kind == stepFound {
		places = finding.InSearchOrder(places)
	}
	var zones []estimate.Zone
	for _, p := range places {
		z := estimate.Zone{Place: p, Leakage: size}
		row := zoneRow{placeLine: newPlaceLine(p), Bar: 100 * min(1, max(0, zeroIfUnknown(p.Probability)))}
		out.Places = append(out.Places, row)
		if f.SizeUnit == "m3/s" {
			zones = append(zones, z)
		}
	}
	out.Places = out.Places[:min(len(out.Places), maxPlaces)]
	if n := c.NextTest; n != nil {
		if out.Note = n.Reason; strings.HasPrefix(out.Step.More, n.Reason) {
			out.Note = "" // the step says so already
		}
		if len(n.Tests) > 0 && out.Step.Kind != stepFound {
			out.Why = s.whyText(&n.Tests[0])
		}
	}
	if out.Step.Kind == stepFound {
		out.Action = s.proper(f.Action)
	}
	out.Drawing = s.drawLeaks(rq, c, st, zones, fmt.Sprint("h", i))
	return out
}

// testCautions stand beside a test: the fan runs, so that nothing may be opened but gates.
var testCautions = texts(caution.MachinesIdle, caution.FanRuns, caution.AllGates, caution.Authority)

// huntCautions are those of a test, or of looking at a place.
func huntCautions(step stepKind, f *finding.Finding) []string {
	if step == stepFound {
		return cautions(f.Kind)
	}
	return testCautions
}

// suspects are the places where it may be, as the next test has them if there is one.
func suspects(c *watch.Collector, f *finding.Finding) []finding.Place {
	if c.NextTest != nil {
		return c.NextTest.Suspects
	}
	return f.Where
}

// huntedFinding is what is looked for: the finding that the next test is about, else the latest whose place was found.
func huntedFinding(c *watch.Collector) *finding.Finding {
	var last *finding.Finding
	for i := range c.Findings {
		f := &c.Findings[i]
		if !f.Active() || len(f.Where) == 0 {
			continue
		}
		if c.NextTest != nil && f.ID == c.NextTest.Finding {
			return f
		}
		switch f.Kind {
		case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks, finding.DropBlocked, finding.TrunkBlocked, finding.OpenSideChanged:
			if f.Priority != finding.Journal {
				last = f
			}
		}
	}
	return last
}

// narrowedText says how many places hold nine tenths of the probability.
func narrowedText(places []finding.Place) string {
	sum, n := 0.0, 0
	for _, p := range places {
		if sum >= 0.9 || p.Part == "other" {
			break
		}
		sum += p.Probability
		n += max(1, len(p.Members))
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("Nine times in ten it is at %s.", plural(n, "one place", fmt.Sprintf("one of %d places", n)))
}

// whyText says why a test is the best next one, and what it should bring.
func (s *server) whyText(p *estimate.Proposal) string {
	words := s.proper(p.Reason)
	if known(p.Likeliest) {
		words += fmt.Sprintf(" On average the likeliest single place should then have %s.", shareText(p.Likeliest))
	}
	return strings.TrimSpace(words)
}
