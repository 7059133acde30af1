package dashboard

import (
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
