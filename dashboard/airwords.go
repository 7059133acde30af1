package dashboard

import (
	"math"

	"ductward/internal/estimate"
)

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
