package live

import (
	"errors"
	"math"
	"time"

	"ductward/hardware"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// rundown is how long after a fan was seen to stop its pressures are no zero yet: the wheel runs on, and 60 s are common
// practice (no source).
const rundown = 60 * time.Second

func (w *Watch) note(channel, raw string, v float64, q reading.Quality, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	r := w.by[channel]
	r.raw = raw
	var f *hardware.Fault
	switch {
	case errors.As(err, &f):
		r.lose(f)
	case err != nil:
		r.lose(&hardware.Fault{Code: hardware.ChipError, Channel: channel, Where: r.where, Err: err})
	default:
		w.heard(r, v, q)
	}
}

// heard takes a value; the lock is held.
func (w *Watch) heard(r *row, v float64, q reading.Quality) {
	if r.sensor != nil && r.sensor.Measures == shop.BarometricPressure {
		w.set.SetAmbient(v)
	}
	if r.channel == r.collector.FanChannel() {
		w.hearFan(r, v)
	}
	r.take(v, q, w.atRest(r.collector))
}

// hearFan notes since when a fan stands.
func (w *Watch) hearFan(r *row, v float64) {
	name := r.collector.Name
	switch _, known := w.stood[name]; {
	case v != 0:
		delete(w.stood, name)
	case !known && math.IsNaN(r.value):
		w.stood[name] = -1
	case !known:
		w.stood[name] = w.clock.Mono()
	}
}

// atRest tells whether a collector's fan is known to have come to rest.
func (w *Watch) atRest(c *shop.Collector) bool {
	if w.said != Unknown {
		return w.said == Standing
	}
	since, standing := w.stood[c.Name]
	return standing && (since < 0 || w.clock.Mono()-since >= rundown)
}

// takePushed takes what was published, and the faults of what was not.
func (w *Watch) takePushed() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for more := true; more; {
		select {
		case r := <-w.set.Pushed():
			w.heard(w.by[r.Channel], r.Value, r.Quality)
		default:
			more = false
		}
	}
	for _, f := range w.set.Faults() {
		if r := w.by[f.Channel]; r.fault == nil && r.source.Kind == shop.SourceMQTT {
			r.lose(f)
		}
	}
}

// Fan tells what is known of a collector's fan.
func (w *Watch) Fan(collector string) Fan {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.fan(collector)
}

func (w *Watch) fan(collector string) Fan {
	if w.said != Unknown {
		return w.said
	}
	r := w.by[collector+"/fan"]
	switch {
	case r == nil || r.fault != nil || math.IsNaN(r.value):
		return Unknown
	case r.value != 0:
		return Running
	}
	return Standing
}
