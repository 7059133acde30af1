package trial

import (
	"slices"
	"strings"

	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/shop"
)

// measureSize compares the new leakage that is told on the last day of work with the truth.
func measureSize(l *life, m Metrics) {
	n := l.lastWorked(l.days)
	if n < l.from {
		return // nobody has worked since
	}
	d := l.day(n)
	if d == nil {
		m.add("told", 0)
		return
	}
	m.add("told", flag(known(d.Leakage.V)))
	e := d.Leakage.V - l.leakage[n]
	m.add("error", hour*e)
	if known(e) && known(d.Leakage.SE) {
		m.add("held", flag(abs(e) <= detect.Quantile(0.9)*d.Leakage.SE))
		m.add("se", hour*d.Leakage.SE)
	}
}

func abs(x float64) float64 { return max(x, -x) }

// measureTested is measureSize for plants whose last day is one of work, and so ends with a test.
func measureTested(l *life, m Metrics) {
	if l.work.Working(l.days - 1) {
		measureSize(l, m)
	}
}

// measureLeak tells when a sudden leak is seen, since when it is said to be there, and where.
func measureLeak(l *life, m Metrics) {
	measureSize(l, m)
	m.add("seen same day", flag(l.leakSeen(l.from) != nil))
	m.add("seen in a week", flag(l.leakSeen(faultDay+6) != nil))
	if l.work.Working(faultDay + 4) { // the Friday on which a weekly test falls
		m.add("seen by the test", flag(l.leakSeen(faultDay+6) != nil))
	}
	m.add("other alarm", flag(l.otherAlarm(isLeak)))
	f := l.leakSeen(l.days)
	if f == nil {
		return
	}
	on := l.work.DayOf(f.Onset)
	m.add("onset same day", flag(on == l.from))
	measurePlace(l, f, m)
}

// leakSeen returns the latest finding of a leak that was raised after it opened and by the end of a day, nil if none.
func (l *life) leakSeen(day int) *finding.Finding {
	var out *finding.Finding
	for i := range l.findings {
		if f := &l.findings[i]; isLeak(f) && asks(f) && l.raisedBy(f, day) && (out == nil || out.Raised.Before(f.Raised)) {
			out = f
		}
	}
	return out
}

// otherAlarm tells whether anything was raised after the fault that asks something and is not of the right kind.
func (l *life) otherAlarm(right func(*finding.Finding) bool) bool {
	return slices.ContainsFunc(l.findings, func(f finding.Finding) bool {
		return asks(&f) && !right(&f) && l.raisedBy(&f, l.days)
	})
}

// measurePlace compares where a leak is said to be with where it is.
func measurePlace(l *life, f *finding.Finding, m Metrics) {
	truth := toldAs(l.c, l.faults[0].Name)
	branch := branchOf(l.c, truth)
	mass := map[string]float64{} // by branch, "trunk" among them
	stretch := 0.0
	var ranked []string
	places := slices.Clone(f.Where)
	slices.SortStableFunc(places, func(a, b finding.Place) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return 0
	})
	for _, p := range places {
		members := membersOf(p)
		for _, part := range members {
			mass[branchOf(l.c, part)] += p.Probability / float64(len(members))
			if len(members) == 1 && part == truth {
				stretch += p.Probability
			}
		}
		ranked = append(ranked, members...)
	}
	m.add("branch right", flag(mass[branch] >= 0.9))
	m.add("stretch right", flag(stretch >= 0.9))
	m.add("first two", flag(slices.Contains(ranked[:min(2, len(ranked))], truth)))
	stated, right := 0.0, false
	for _, b := range branchesOf(l.c) {
		if mass[b] > stated {
			stated, right = mass[b], b == branch
		}
	}
	m.add("stated", stated)
	m.add("stated right", flag(right))
	if stated >= 0.9 {
		m.add("sure right", flag(right))
	}
	if len(places) > 0 {
		m.add("place stated", places[0].Probability)
		m.add("place right", flag(slices.Contains(membersOf(places[0]), truth)))
		if places[0].Probability >= 0.9 {
			m.add("sure place right", flag(slices.Contains(membersOf(places[0]), truth)))
		}
	}
}

// membersOf returns the parts that a place holds.
func membersOf(p finding.Place) []string {
	if len(p.Members) == 0 {
		return []string{p.Part}
	}
	return p.Members
}

// branchesOf lists the trunk and the machines that the branches are named by.
func branchesOf(c *shop.Collector) []string {
	out := []string{"trunk"}
	for _, m := range c.Machines {
		out = append(out, m.Name)
	}
	return out
}

// branchOf returns the branch that a part belongs to: "trunk", a machine's name, or the part itself where it is neither.
// In the trials' shop the parts of a branch begin with its machine's name.
func branchOf(c *shop.Collector, part string) string {
	_, name, _ := strings.Cut(part, ":")
	for _, b := range branchesOf(c) {
		if name == b || strings.HasPrefix(name, b+" ") {
			return b
		}
	}
	return part
}

// ownerOf names a machine that breathes through a run.
func ownerOf(c *shop.Collector, run string) string {
	for _, m := range c.Machines {
		if slices.ContainsFunc(c.PathOf(m.Name), func(r *shop.Run) bool { return r.Name == run }) {
			return m.Name
		}
	}
	return ""
}

// toldAs returns the part by which a leak is told: that of a run which one machine alone breathes through is its drop, unless a
// tap parts them, and what enters at the separator enters behind every tap of the ducts.
func toldAs(c *shop.Collector, part string) string {
	if strings.HasPrefix(part, "separator:") {
		return "inlet:" + c.Name
	}
	name, ok := strings.CutPrefix(part, "run:")
	if !ok || c.LeaksApart(name) {
		return part
	}
	gates := c.MachineGates(ownerOf(c, name))
	if len(gates) == 0 {
		return part
	}
	return "drop:" + gates[len(gates)-1]
}

// measureGrowth tells when a slow growth is seen, and since when it is said to go on.
func measureGrowth(l *life, m Metrics) {
	measureSize(l, m)
	m.add("seen in 4 weeks", flag(l.leakSeen(faultDay+27) != nil))
	if l.days > faultDay+90 {
		m.add("seen in 3 months", flag(l.leakSeen(faultDay+90) != nil))
	}
	if f := l.leakSeen(l.days); f != nil {
		m.add("onset error", float64(l.workedBetween(faultDay, l.work.DayOf(f.Onset))))
	}
}

// workedBetween counts the days of work from one day to another; it is negative where the second comes first.
func (l *life) workedBetween(a, b int) int {
	if b < a {
		return -l.workedBetween(b, a)
	}
	n := 0
	for d := a; d < b; d++ {
		if l.work.Working(d) {
			n++
		}
	}
	return n
}
