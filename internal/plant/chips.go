package plant

import "time"

// use is a stretch of a day in which a machine's gate is open.
type use struct {
	machine  int
	from, to time.Duration // to is 0 while it goes on
}

func (u *use) end(t time.Duration) {
	if u.to == 0 {
		u.to = t
	}
}

// A machine in use cuts for a while and then stands idle for a while, in seconds (common practice, no source).
var (
	cutsFor  = [2]float64{8, 40}
	idlesFor = [2]float64{5, 40}
)

// cut adds the chips of a day: while a machine cuts, its drop carries them.
func (w *Workdays) cut(d *day) {
	var heavy []Fault
	for _, f := range w.o.Faults {
		if _, there := f.on(d.n); there && f.Kind == ChipEvent {
			heavy = append(heavy, f)
		}
	}
	if heavy == nil {
		return
	}
	r := w.stream(d.n, chipStream)
	seconds := func(of [2]float64) time.Duration {
		return time.Duration((of[0] + (of[1]-of[0])*r.Float64()) * float64(time.Second)).Truncate(time.Millisecond)
	}
	for _, u := range d.uses {
		name := w.machines[u.machine].name
		for _, f := range heavy {
			if f.Name != "" && f.Name != name {
				continue
			}
			factor, _ := f.on(d.n)
			for t := u.from + seconds(idlesFor); t < u.to; t += seconds(idlesFor) {
				d.add(Event{At: t, Kind: ChipEvent, Name: name, Value: factor})
				t = min(t+seconds(cutsFor), u.to)
				d.add(Event{At: t, Kind: ChipEvent, Name: name, Value: 1})
			}
		}
	}
}
