package estimate

import (
	"math"
	"time"

	"ductward/internal/steady"
)

// zeroPriorPairs is how many pairs of zeros, one after the other, the prior of how far a zero wanders is worth, and
// zeroMemory how many the record is at most: a sensor that has aged is not taken for what it was years ago.
const (
	zeroPriorPairs = 4.0
	zeroMemory     = 100.0
)

// zeroNight is the age from which a zero is taken as that of another day: the room has cooled and warmed since.
const zeroNight = 6 * time.Hour

// wander is how far a zero goes from one reading of it to the next, as their difference shows.
type wander struct{ square, pairs float64 }

// see takes in a difference in Pa, with its variance as the zeros' own noise makes it.
func (w *wander) see(difference, variance float64) {
	keep := math.Min(1, (zeroMemory-1)/math.Max(w.pairs, 1))
	w.square = keep*w.square + difference*difference - variance
	w.pairs = keep*w.pairs + 1
}

// sd is the standard deviation in Pa, the prior's where nothing has been seen.
func (w *wander) sd(prior float64) float64 {
	return math.Sqrt((zeroPriorPairs*prior*prior + math.Max(w.square, 0)) / (zeroPriorPairs + w.pairs))
}

// learn takes in a zero that follows on one of the same sensor. A jump is told and is no wandering.
func (z *zeroTrack) learn(s *steady.Summary, r *steady.Run) {
	age := r.At.Sub(z.taken.at)
	switch {
	case r.Boot == z.taken.boot:
		age = r.End - z.taken.mono
	case r.At.IsZero() || z.taken.at.IsZero():
		return
	}
	d, v := s.Mean-z.last, s.SE*s.SE+z.se*z.se
	if age < zeroNight {
		z.near.see(d, v)
		return
	}
	days := math.Max(1, age.Hours()/24)
	z.night.see(d/math.Sqrt(days), v/days)
}

// wanders returns the standard error in Pa of a zero of an age, from a part's usual one and what the record has shown. It walks
// at random from day to day.
func (z *zeroTrack) wanders(age time.Duration, prior float64) float64 {
	near := z.near.sd(prior)
	if age < zeroNight {
		return near
	}
	return math.Max(near, z.night.sd(prior)) * math.Sqrt(math.Max(1, age.Hours()/24))
}

// zeroError returns the standard error in Pa of the zero that was subtracted from a pressure, as it was when the pressure was
// read.
func (e *Estimator) zeroError(s *steady.Summary) float64 {
	if s.ZeroAge < 0 {
		return unzeroed
	}
	z := e.faults.zeros[s.Channel]
	return math.Hypot(z.wanders(s.ZeroAge, zeroDrift), z.se)
}

// zeroUsual is the same of a zero read on the same day, by channel.
func (e *Estimator) zeroUsual(channel string) float64 {
	z := e.faults.zeros[channel]
	return z.wanders(0, zeroDrift)
}

// reread gives runs that wait for their baseline the errors of their zeros as they are known by now.
func (e *Estimator) reread(d *dayData) {
	for i := range d.obs {
		o := &d.obs[i]
		for k, c := range o.have {
			if s := channelOf(o.run, e.cols.channels[c]); s != nil {
				o.se[k] = e.errorOf(c, s)
			}
		}
	}
}

// errorOf returns the standard error of a run's mean of a channel, in the channel's unit, zero included.
func (e *Estimator) errorOf(c int, s *steady.Summary) float64 {
	if e.cols.meters[c].fan {
		return s.SE
	}
	return math.Hypot(math.Hypot(s.SE, e.zeroError(s)), tinyPressure)
}
