package dashboard

import (
	"math"
	"strings"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/reading"
	"ductward/internal/watch"
)

// word is one of the four words that say how a collector stands.
type word string

// The four state words, worst first.
const (
	actToday   word = "act today"
	cannotTell word = "cannot tell"
	plan       word = "plan"
	good       word = "good"
)

// class names the style of a word.
func (w word) class() string { return strings.ReplaceAll(string(w), " ", "-") }

// state is how one collector stands, in words.
type state struct {
	Word     word
	Sentence string
	Stale    bool
	At       time.Time // of the newest reading; zero: none
	FanOn    bool
}

// minStale is the least age at which readings count as old.
const minStale = time.Minute

// stateOf judges one collector. What asks for action outranks what is not known: an alarm does not hide because a
// sensor has failed since.
func (s *server) stateOf(rq *request, c *watch.Collector, latest map[string]reading.Reading) state {
	st := state{Word: good, At: s.newest(c, latest), FanOn: c.Now.FanOn}
	st.Stale = st.At.IsZero() || rq.now.Sub(st.At) > s.staleAfter(c.Name)
	var parts []string
	switch {
	case st.At.IsZero():
		parts = append(parts, "No reading has arrived yet, so nothing can be said.")
	case st.Stale:
		parts = append(parts, "The last reading is from "+s.moment(st.At, rq.now)+": what follows was so then.")
	}
	if !st.Stale && !c.Baseline.Complete {
		parts = append(parts, lacksBaseline(c.Baseline))
	}
	if fault := faulty(c); len(fault) > 0 && !st.Stale {
		parts = append(parts, capital(sentenceList(fault))+" cannot be trusted.")
	}
	if st.Stale || !c.Baseline.Complete || len(faulty(c)) > 0 {
		st.Word = cannotTell
	}
	if !st.At.IsZero() {
		parts = append(parts, s.airSentence(&c.Now)...)
		parts = append(parts, s.dueSentence(c, rq.now)...)
	}
	held := s.held()
	parts = append(parts, urgent(c, held)...)
	st.Word = worst(st.Word, c, held)
	st.Sentence = strings.Join(parts, " ")
	return st
}

// worst takes the active findings into account that are not put aside. What an instrument in trouble leaves untold stays
// untold, whoever has put it aside.
func worst(w word, c *watch.Collector, held aside) word {
	for i := range c.Findings {
		f := &c.Findings[i]
		switch {
		case !f.Active() || held.quiets(f):
		case f.Priority == finding.ActToday:
			return actToday
		case f.Priority == finding.Plan && w == good:
			w = plan
		case f.Priority == finding.Instrument && w != actToday:
			w = cannotTell
		}
	}
	return w
}

// urgent says what must be done today and is not said by the sentences about air and filter, and which instrument is
// in trouble.
func urgent(c *watch.Collector, held aside) []string {
	var out []string
	faulted := map[string]bool{} // those have been named already
	for _, x := range c.Sensors {
		faulted[x.Channel] = x.Fault != ""
	}
	for i := range c.Findings {
		f := &c.Findings[i]
		if held.quiets(f) {
			if asking(f) {
				out = append(out, "Put aside: "+lowerFirst(kindTitle(f.Kind))+aboutWhat(f)+".")
			}
			continue
		}
		if f.Active() && f.Priority == finding.ActToday && f.Kind != finding.AirShort && f.Kind != finding.FilterDue {
			out = append(out, "Act today: "+lowerFirst(kindTitle(f.Kind))+aboutWhat(f)+".")
		}
		if f.Active() && f.Priority == finding.Instrument && !faulted[f.Subject] {
			out = append(out, kindTitle(f.Kind)+aboutWhat(f)+", so what follows from it cannot be told.")
		}
	}
	return out
}

// aboutWhat names what a finding is about, if it names anything.
func aboutWhat(f *finding.Finding) string {
	if f.Subject == "" {
		return ""
	}
	return " (" + f.Subject + ")"
}

// lowerFirst undoes a capital at the start of words that go on a sentence.
func lowerFirst(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToLower(text[:1]) + text[1:]
}

// newest is the time of the newest reading of a collector's sensors.
func (s *server) newest(c *watch.Collector, latest map[string]reading.Reading) time.Time {
	var at time.Time
	for _, x := range c.Sensors {
		if s.isSwitch(x.Channel) { // a gate that moves says nothing of the pressures
			continue
		}
		if x.At.After(at) {
			at = x.At
		}
		if r, ok := latest[x.Channel]; ok && r.Time.After(at) {
			at = r.Time
		}
	}
	return at
}

// isSwitch tells whether a channel is a gate, a selector or the fan: it speaks only when it moves.
func (s *server) isSwitch(name string) bool {
	c, ok := s.channel(name)
	return ok && c.measure == switchMeasure
}

// staleAfter is the age at which the readings of a collector are old: five of its longest intervals missed.
func (s *server) staleAfter(collector string) time.Duration {
	limit := minStale
	for _, c := range s.Shop.Collectors {
		if c.Name != collector {
			continue
		}
		for _, x := range c.Sensors {
			limit = max(limit, 5*x.Interval)
		}
	}
	return limit
}

// faulty names the sensors that are known to be bad.
func faulty(c *watch.Collector) []string {
	var out []string
	for _, x := range c.Sensors {
		if x.Fault != "" {
			out = append(out, strings.TrimPrefix(x.Channel, c.Name+"/"))
		}
	}
	return out
}

// lacksBaseline says that there is nothing to compare with yet, and what would change that.
func lacksBaseline(b estimate.Baseline) string {
	text := "There is no baseline yet, so what is new cannot be told."
	if b.Lacks != "" {
		text += " Still lacking: " + strings.TrimSuffix(b.Lacks, ".") + "."
	}
	return text
}

// airVerdict says whether a machine has the air that it needs.
type airVerdict int

// The verdicts. Nine times out of ten a stated "enough" or "short" is right, if the spread is.
const (
	noNeed    airVerdict = iota // its need is not stated
	noAnswer                    // its air is not known
	enough                      // surely what it needs
	closeCall                   // too close to tell
	short                       // surely less than it needs
)

// judge compares a machine's air with its need.
func judge(m estimate.MachineAir) airVerdict {
	half := ninety * m.Flow.SE
	switch {
	case !known(m.Flow.V):
		return noAnswer
	case math.IsNaN(m.Needs) || m.Needs <= 0:
		return noNeed
	case m.Flow.V-zeroIfUnknown(half) >= m.Needs:
		return enough
	case m.Flow.V+zeroIfUnknown(half) < m.Needs:
		return short
	}
	return closeCall
}

// zeroIfUnknown takes an unknown spread as none.
func zeroIfUnknown(v float64) float64 {
	if known(v) {
		return v
	}
	return 0
}

// airSentence says how the open machines fare.
func (s *server) airSentence(n *estimate.Now) []string {
	if !n.FanOn {
		return []string{"The fan is off: no air is drawn."}
	}
	var by [short + 1][]string
	var out []string
	if len(n.Machines) == 0 {
		return []string{"The fan moves " + s.flowText(n.Flow) + "."}
	}
	open := 0
	for _, m := range n.Machines {
		if m.Open {
			open++
			by[judge(m)] = append(by[judge(m)], m.Machine)
		}
	}
	if open == 0 {
		return []string{"The fan runs and no machine’s gate is open."}
	}
	for _, m := range n.Machines {
		if m.Open && judge(m) == short {
			out = append(out, capital(m.Machine)+" is short of air: it gets about "+rounded(m.Flow, s.flow.factor)+" of the "+s.flowPlain(m.Needs)+" that it needs.")
		}
	}
	return append(out, verdictSentences(by)...)
}

// verdictSentences says which machines have enough, and of which it cannot be said.
func verdictSentences(by [short + 1][]string) []string {
	var out []string
	if v := by[enough]; len(v) > 0 {
		out = append(out, capital(sentenceList(v))+plural(len(v), " has the air it needs.", " have the air they need."))
	}
	if v := by[closeCall]; len(v) > 0 {
		out = append(out, capital(sentenceList(v))+plural(len(v), " gets about what it needs, too close to call.", " get about what they need, too close to call."))
	}
	if v := by[noAnswer]; len(v) > 0 {
		out = append(out, "The air at "+sentenceList(v)+" cannot be told.")
	}
	if v := by[noNeed]; len(v) > 0 {
		out = append(out, capital(sentenceList(v))+plural(len(v), " is open; what it needs is not stated.", " are open; what they need is not stated."))
	}
	return out
}

// plural chooses by number.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// dueSentence says when the filter must be cleaned.
func (s *server) dueSentence(c *watch.Collector, now time.Time) []string {
	d := lastDue(c)
	switch {
	case d == nil:
		return nil
	case d.High.Before(now):
		return []string{"Clean the filter: it was due by " + s.day(d.High, now) + "."}
	case d.Low.After(now.AddDate(0, 0, 60)):
		return []string{"The filter needs no cleaning before " + s.day(d.Low, now) + "."}
	case d.Low.Before(now):
		return []string{"Clean the filter by " + s.day(d.High, now) + "."}
	}
	return []string{"Clean the filter " + s.interval(d.Low, d.High, now) + "."}
}

// lastDue is the newest forecast, or nil.
func lastDue(c *watch.Collector) *estimate.Due {
	for i := len(c.Days) - 1; i >= 0; i-- {
		if c.Days[i].Due != nil {
			return c.Days[i].Due
		}
	}
	return nil
}

// lastDay is the newest day, or nil.
func lastDay(c *watch.Collector) *estimate.Day {
	if len(c.Days) == 0 {
		return nil
	}
	return &c.Days[len(c.Days)-1]
}
