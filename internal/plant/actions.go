package plant

import (
	"slices"
	"time"
)

// mostInUse is how many machines run at once, at most.
const mostInUse = 3

// action does one thing at the machines: another one is started, one is stopped, or one is swapped for another. It
// returns when it is done.
func (d *day) action(t time.Duration) time.Duration {
	x := d.r.Float64()
	switch n := len(d.inUse); {
	case n <= 1 && x < 0.55, n == 2 && x < 0.2:
		d.start(t)
	case n >= mostInUse, n == 2 && x < 0.65:
		d.stop(t, d.r.IntN(n))
	default:
		if d.start(t) && len(d.inUse) > 1 { // the new one first, so that a gate is always open
			t += d.minutes(0.08, 0.3)
			d.stop(t, d.r.IntN(len(d.inUse)-1))
		}
	}
	return t
}

// start puts another machine to use, moving a hose to it if need be, and tells whether there was one to start.
func (d *day) start(t time.Duration) bool {
	i := d.pick()
	if i < 0 {
		return false
	}
	d.use(i, t)
	return true
}

// use puts a machine that is free to use.
func (d *day) use(i int, t time.Duration) {
	m := &d.w.machines[i]
	for _, sp := range m.ports {
		name := d.w.selects[sp[0]]
		if d.port[name] != sp[1] {
			d.port[name] = sp[1]
			d.add(Event{At: t, Kind: PortEvent, Name: name, Value: float64(sp[1])})
		}
	}
	d.add(Event{At: t, Kind: UseEvent, Name: m.name})
	for _, g := range m.gates {
		d.add(Event{At: t, Kind: GateEvent, Name: d.w.gates[g], On: true})
	}
	d.inUse = append(d.inUse, i)
	d.uses = append(d.uses, use{machine: i, from: t})
}

// pick draws a machine that is not in use and shares no selector with one that is; -1 if there is none.
func (d *day) pick() int {
	total := 0.0
	for i := range d.w.machines {
		if d.free(i) {
			total += d.w.likes[i]
		}
	}
	x := d.r.Float64() * total
	found := -1
	for i := range d.w.machines {
		if d.free(i) {
			found = i
			if x -= d.w.likes[i]; x < 0 {
				break
			}
		}
	}
	return found
}

// free tells whether a machine can be started.
func (d *day) free(i int) bool {
	for _, used := range d.inUse {
		if used == i {
			return false
		}
		for _, a := range d.w.machines[used].ports {
			for _, b := range d.w.machines[i].ports {
				if a[0] == b[0] {
					return false
				}
			}
		}
	}
	return true
}

// stop ends the use of the k-th machine in use and shuts the gates that no other needs.
func (d *day) stop(t time.Duration, k int) {
	i := d.inUse[k]
	d.inUse = slices.Delete(d.inUse, k, k+1)
	for u := range d.uses {
		if d.uses[u].machine == i {
			d.uses[u].end(t)
		}
	}
	if m := &d.w.machines[i]; len(m.gates) == 0 {
		for _, sp := range m.ports {
			name := d.w.selects[sp[0]]
			d.port[name] = 0
			d.add(Event{At: t, Kind: PortEvent, Name: name})
		}
	}
	for _, g := range d.w.machines[i].gates {
		needed := slices.ContainsFunc(d.inUse, func(u int) bool { return slices.Contains(d.w.machines[u].gates, g) })
		if !needed {
			d.add(Event{At: t, Kind: GateEvent, Name: d.w.gates[g]})
		}
	}
}
