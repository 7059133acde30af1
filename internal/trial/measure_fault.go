package trial

import (
	"slices"

	"ductward/internal/finding"
	"ductward/internal/plant"
)

// soonUses is how many uses of a machine its blocked drop may take to be told.
const soonUses = 5

// measureBlocked tells whether a blocked drop is told within five uses of its machine, and not as a leak.
func measureBlocked(l *life, m Metrics) {
	machine, uses, by := l.faults[0].Name, 0, -1
	for d := faultDay; d < l.days && by < 0; d++ {
		for _, e := range l.work.Day(d) {
			if e.Kind == plant.UseEvent && e.Name == machine {
				if uses++; uses == soonUses {
					by = d
				}
			}
		}
	}
	if by >= 0 { // else it was not used often enough to ask
		m.add("told in time", flag(l.toldBy(by, func(f *finding.Finding) bool {
			return f.Subject == machine && (f.Kind == finding.DropBlocked || f.Kind == finding.OpenSideChanged)
		})))
	}
	m.add("no leak told", flag(!l.toldBy(l.days, isLeak)))
}

// toldBy tells whether a finding of a kind that asks something was raised after the fault, by the end of a day.
func (l *life) toldBy(day int, kind func(*finding.Finding) bool) bool {
	return slices.ContainsFunc(l.findings, func(f finding.Finding) bool { return asks(&f) && kind(&f) && l.raisedBy(&f, day) })
}

// measureSlip tells when a slow fan is told, and whether as nothing else.
func measureSlip(l *life, m Metrics) {
	slow := func(f *finding.Finding) bool { return f.Kind == finding.FanSlow }
	m.add("told in a day", flag(l.toldBy(l.from, slow)))
	m.add("told in three days", flag(l.toldBy(l.workAfter(l.from, 2), slow)))
	m.add("nothing else told", flag(!l.otherAlarm(slow)))
	if d := l.day(l.lastWorked(l.days)); d != nil {
		m.add("fan error", 100*(d.FanRatio.V-l.faults[0].Size))
	}
}

// workAfter returns the day that is so many days of work after another.
func (l *life) workAfter(day, n int) int {
	for n > 0 && day < l.days {
		day++
		if l.work.Working(day) {
			n--
		}
	}
	return day
}

// measureZero tells whether a moved zero of a sensor is told, and how much leakage it feigns.
func measureZero(sensor string) func(*life, Metrics) {
	return func(l *life, m Metrics) {
		channel := l.c.ChannelOf(sensor)
		// a zero that is corrected asks nothing of anybody: the journal is where it is told
		m.add("told", flag(slices.ContainsFunc(l.findings, func(f finding.Finding) bool {
			return f.Kind == finding.SensorZero && f.Subject == channel && l.raisedBy(&f, l.days)
		})))
		m.add("no leak told", flag(!l.toldBy(l.days, isLeak)))
		if d := l.day(l.lastWorked(l.days)); d != nil {
			m.add("leakage", hour*d.Leakage.V)
		}
	}
}

// measurePlugged tells whether a plugged tap is told on the day that it plugs, and not as a leak.
func measurePlugged(l *life, m Metrics) {
	channel := l.c.ChannelOf("trunk static")
	plugged := func(f *finding.Finding) bool {
		return f.Subject == channel && (f.Kind == finding.SensorPlugged || f.Kind == finding.SensorStuck)
	}
	m.add("told in a day", flag(l.toldBy(l.from, plugged)))
	m.add("no leak told", flag(!l.toldBy(l.days, isLeak)))
	d := l.day(l.lastWorked(l.days))
	m.add("rest goes on", flag(d != nil && known(d.FilterRatio.V)))
}
