package estimate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"ductward/internal/finding"
	"ductward/internal/steady"
)

// zeroTrack is the history of one channel's zero.
type zeroTrack struct {
	first float64
	last  float64
	se    float64 // of the last one
	taken moment  // when that was
	n     int
	near  wander // within a day
	night wander // from one day to the next, as a walk
}

// The steps of a zero that are told, in Pa.
const (
	zeroMoved   = 15.0  // since the first one: more than parts of this kind drift in a year (common practice, no source)
	zeroStepped = 5.0   // from one to the next
	zeroRefused = 30.0  // from one to the next: steady refuses it
	zeroFar     = 100.0 // from nothing, the same
)

// zero looks at the zeros that a still stretch brought.
func (b *faultBook) zero(e *Estimator, r *steady.Run) {
	for _, s := range r.Channels {
		if !e.isPressure(s.Channel) {
			continue
		}
		z, had := b.zeros[s.Channel]
		far := had && math.Abs(s.Mean-z.last) > zeroRefused+4*s.SE // no comparison holds for NaN
		if !s.Still() && !far {                                    // water that swings in a tube, or air that moves, is no zero, but may be far from one
			continue
		}
		if !had {
			b.zeros[s.Channel] = zeroTrack{first: s.Mean, last: s.Mean, se: s.SE, taken: endOf(r), n: 1}
			e.zeroBefore(s, r)
			continue
		}
		jump := s.Mean - z.last
		z.n++
		switch {
		case math.Abs(jump) > zeroRefused || math.Abs(s.Mean) > zeroFar:
			e.refused[s.Channel] = true
			e.open.forget(slices.Index(e.cols.channels, s.Channel), z.taken)
			if e.distrusted[s.Channel] {
				break // what a plugged tap holds back is no zero, and no trouble of its own
			}
			e.raiseFault(finding.SensorZero, s.Channel, r.At, s.Mean, "Pa",
				fmt.Sprintf("Sensor %s reads %.1f Pa with the fan off, %.1f Pa away from its last zero: it was not taken as a zero, and the sensor is left out of the estimate.", s.Channel, s.Mean, jump))
		case math.Abs(jump) > zeroStepped || math.Abs(s.Mean-z.first) > zeroMoved:
			delete(e.refused, s.Channel)
			if math.Abs(jump) > zeroStepped { // where nothing is read before the fan starts, the morning was told by the old one
				e.open.forget(slices.Index(e.cols.channels, s.Channel), z.taken)
			}
			z.last, z.first, z.se = s.Mean, s.Mean, s.SE
			e.noteZero(s.Channel, r.At, jump, s.Mean)
		default:
			delete(e.refused, s.Channel)
			z.learn(&s, r)
			z.last, z.se = s.Mean, s.SE
			e.endFault(finding.SensorZero, s.Channel, r.At)
		}
		if !e.refused[s.Channel] {
			z.taken = endOf(r)
		}
		b.zeros[s.Channel] = z
	}
}

// forget takes a channel out of the runs of a day since its last good zero: nobody knows when it went wrong.
func (d *dayData) forget(c int, since moment) {
	if d == nil || c < 0 {
		return
	}
	for i := range d.obs {
		o := &d.obs[i]
		k := slices.Index(o.have, c)
		if k < 0 || o.run.Boot == since.boot && o.run.End <= since.mono {
			continue
		}
		o.have = slices.Delete(slices.Clone(o.have), k, k+1)
		o.value = slices.Delete(slices.Clone(o.value), k, k+1)
		o.se = slices.Delete(slices.Clone(o.se), k, k+1)
	}
	d.obs = slices.DeleteFunc(d.obs, func(o observation) bool { return len(o.have) == 0 })
}

// zeroBefore takes a sensor's first zero off the runs before it: a shop that starts its fan as soon as the board runs may test its
// ducts before anything was read with the fan off.
func (e *Estimator) zeroBefore(z steady.Summary, at *steady.Run) {
	if math.Abs(z.Mean) > zeroFar { // what a plugged tap holds back
		return
	}
	e.open.zeroLate(e, z, at)
	for _, d := range e.gathered {
		d.zeroLate(e, z, at)
	}
}

func (d *dayData) zeroLate(e *Estimator, z steady.Summary, at *steady.Run) {
	c := slices.Index(e.cols.channels, z.Channel)
	if d == nil || c < 0 {
		return
	}
	for i := range d.obs {
		o := &d.obs[i]
		k := slices.Index(o.have, c)
		if k < 0 {
			continue
		}
		s := channelOf(o.run, z.Channel)
		if s.ZeroAge >= 0 || s.Zero != 0 {
			continue
		}
		zeroed := *s
		zeroed.Mean, zeroed.Zero, zeroed.ZeroAge = s.Mean-z.Mean, z.Mean, max(endOf(o.run).until(at), 0)
		run := *o.run
		run.Channels = slices.Clone(run.Channels)
		run.Channels[slices.IndexFunc(run.Channels, func(s steady.Summary) bool { return s.Channel == z.Channel })] = zeroed
		o.run, o.value[k], o.se[k] = &run, zeroed.Mean, e.errorOf(c, &zeroed)
	}
}

// noteZero notes that a zero moved and was taken: the readings are corrected for it, and nobody need do anything.
func (e *Estimator) noteZero(channel string, at time.Time, jump, zero float64) {
	e.endFault(finding.SensorZero, channel, at)
	f := finding.Finding{Collector: e.collector.Name, Kind: finding.SensorZero, Subject: channel, Priority: finding.Journal,
		Raised: at, Onset: at, OnsetLow: at, OnsetHigh: at, Ended: at, Size: zero, SizeLow: zero - 1, SizeHigh: zero + 1,
		SizeUnit: "Pa", Confidence: confidence}
	f.ID = e.newID(f.Kind, channel, at)
	f.Text = fmt.Sprintf("The zero of sensor %s is now %.1f Pa, %.1f Pa from its last. Its readings are corrected for it.", channel, zero, jump)
	f.Action = "Nothing today. If it goes on moving, look at the tube for water and plan a new sensor."
	e.findings = append(e.findings, f)
}
