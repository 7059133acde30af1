package steady

import (
	"time"

	"ductward/internal/reading"
)

// begin starts a stretch at mono.
func (f *Folder) begin(mono time.Duration) {
	f.begun = mono
	f.settled = mono + settle
	if f.fan.known && f.fan.value == 0 {
		f.settled = mono + runDown
	}
	f.fanOnFrom = mono
	f.clear()
}

// clear forgets the samples of the stretch.
func (f *Folder) clear() {
	for i := range f.series {
		f.series[i] = series{blocks: f.series[i].blocks[:0]}
	}
	f.held, f.released = f.held[:0], 0
}

// release moves what was held back, up to mono, into the series.
func (f *Folder) release(upto time.Duration) {
	for f.released < len(f.held) && f.held[f.released].Mono <= upto {
		h := &f.held[f.released]
		f.series[f.sensors[h.Channel]].add(h)
		f.released++
	}
	if f.released > len(f.held)/2 { // seldom, so that a long hold costs no more than a short one
		f.held, f.released = f.held[:copy(f.held, f.held[f.released:])], 0
	}
}

// end closes the stretch at mono and appends the run that it made, if it made one.
func (f *Folder) end(out []Run, mono time.Duration) []Run {
	f.release(mono - f.hold)
	if f.fan.known && f.fan.value == 1 && mono > f.fanOnFrom {
		f.fanHours += (mono - f.fanOnFrom).Hours()
		f.fanOnFrom = mono
	}
	if !f.fan.known {
		return out
	}
	if f.fan.value == 0 {
		return f.endStill(out)
	}
	if f.steady(mono) < shortest {
		return out
	}
	if k := f.kind(); k == Unknown || k == Running && len(f.gates) == 0 {
		return f.parts(out, mono)
	}
	return f.whole(out, mono)
}

// whole makes one run of a stretch.
func (f *Folder) whole(out []Run, mono time.Duration) []Run {
	run := f.summarise(mono)
	if len(run.Channels) == 0 {
		return out
	}
	f.fanHours = 0
	return append(out, run)
}

// summarise makes the run of the stretch as it stands.
func (f *Folder) summarise(mono time.Duration) Run {
	run := Run{Collector: f.collector, Boot: f.boot, Start: f.begun, End: mono, At: f.lastTime, FanHours: f.fanHours}
	run.Kind = f.kind()
	run.Open, run.Ports = f.positions()
	if run.Kind == Unknown {
		run.Unknown = f.unknown()
	}
	read := 0
	for i, ch := range f.order {
		sum, ok := f.series[i].summary(ch, f.usual[i])
		switch {
		case ok:
			read++
		default:
			if sum, ok = f.lastAir(ch, mono); !ok {
				continue
			}
		}
		if z, known := f.zeros[ch]; known && run.Kind != Zero {
			sum.Mean -= z.Value
			sum.Zero = z.Value
			sum.ZeroAge = f.age(z, mono)
		}
		run.Channels = append(run.Channels, sum)
	}
	if read == 0 { // nothing but the room's air from before
		run.Channels = nil
	}
	return run
}

// age returns how old a zero is: by monotonic time within a boot, else by civil time, else not known.
func (f *Folder) age(z Zeroing, mono time.Duration) time.Duration {
	switch {
	case z.Boot == f.boot:
		return mono - z.Mono
	case !z.At.IsZero() && !f.lastTime.IsZero():
		return max(f.lastTime.Sub(z.At), 0)
	}
	return -1
}

// Open returns the run that goes on, as far as it has come, and whether it has enough steady air to be one. It changes
// nothing.
func (f *Folder) Open() (Run, bool) {
	if !f.seen || !f.fan.known {
		return Run{}, false
	}
	if f.fan.value == 1 {
		c := f.copy()
		runs := c.end(nil, c.lastMono)
		if n := len(runs); n > 0 && runs[n-1].End == c.lastMono { // else something has just moved unseen
			return runs[n-1], true
		}
	}
	run := Run{Collector: f.collector, Kind: f.kind(), Boot: f.boot, Start: f.begun, End: f.lastMono, At: f.lastTime}
	run.Open, run.Ports = f.positions()
	if run.Kind == Unknown {
		run.Unknown = f.unknown()
	}
	return run, false
}

// copy returns a folder that can be ended without harm to this one.
func (f *Folder) copy() *Folder {
	c := *f
	c.held = append([]reading.Reading(nil), f.held...)
	c.series = make([]series, len(f.series))
	for i, s := range f.series {
		s.blocks = append([]block(nil), s.blocks...)
		c.series[i] = s
	}
	return &c
}
