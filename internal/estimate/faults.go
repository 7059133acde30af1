package estimate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/steady"
)

// faultBook follows the sensors as instruments: zeros, noise, and what the hardware reports.
type faultBook struct {
	zeros  map[string]zeroTrack
	tracks map[string]*noiseTrack
	pulses map[string]pulse
	silent map[string]silentTrack
}

// zeroTrack is the history of one channel's zero.
type zeroTrack struct {
	first float64
	last  float64
	se    float64       // of the last one
	at    time.Duration // monotonic, of the last one that was taken
	when  time.Time     // and civil
	boot  uint32
	n     int
	near  wander // within a day
	night wander // from one day to the next, as a walk
}

// noiseTrack is the noise of one channel over its mean, by gate set, as it was at first and as it is.
type noiseTrack struct {
	sum, count map[string]float64
	quiet      int // runs in a row with the noise gone
	loud       int // with the noise grown
	sound      int
	usual      zeroTrack // at: the end of the last run that did not sound quiet
}

// hear counts a run whose noise is so many times the usual.
func (t *noiseTrack) hear(r *steady.Run, share, quieter, louder float64) {
	was := *t
	t.quiet, t.loud, t.sound = 0, 0, 0
	switch {
	case share < noiseGone*quieter:
		t.quiet = was.quiet + 1
	case share > noiseGrown*louder:
		t.loud = was.loud + 1
	default:
		t.sound = was.sound + 1
	}
	if t.quiet == 0 {
		t.usual.at, t.usual.boot = r.End, r.Boot
	}
}

func newFaultBook() faultBook {
	return faultBook{zeros: map[string]zeroTrack{}, tracks: map[string]*noiseTrack{}, pulses: map[string]pulse{}, silent: map[string]silentTrack{}}
}

// The steps of a zero that are told, in Pa.
const (
	zeroMoved   = 15.0 // since the first one: more than parts of this kind drift in a year (common practice, no source)
	zeroStepped = 5.0  // from one to the next
	zeroRefused = 30.0 // from one to the next: steady refuses it
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
			b.zeros[s.Channel] = zeroTrack{first: s.Mean, last: s.Mean, se: s.SE, at: r.End, when: r.At, boot: r.Boot, n: 1}
			continue
		}
		jump := s.Mean - z.last
		z.n++
		switch {
		case math.Abs(jump) > zeroRefused || math.Abs(s.Mean) > 100:
			e.refused[s.Channel] = true
			e.open.forget(slices.Index(e.cols.channels, s.Channel), z)
			if e.distrusted[s.Channel] {
				break // what a plugged tap holds back is no zero, and no trouble of its own
			}
			e.raiseFault(finding.SensorZero, s.Channel, r.At, s.Mean, "Pa",
				fmt.Sprintf("Sensor %s reads %.1f Pa with the fan off, %.1f Pa away from its last zero: it was not taken as a zero, and the sensor is left out of the estimate.", s.Channel, s.Mean, jump))
		case math.Abs(jump) > zeroStepped || math.Abs(s.Mean-z.first) > zeroMoved:
			delete(e.refused, s.Channel)
			if math.Abs(jump) > zeroStepped { // where nothing is read before the fan starts, the morning was told by the old one
				e.open.forget(slices.Index(e.cols.channels, s.Channel), z)
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
			z.at, z.when, z.boot = r.End, r.At, r.Boot
		}
		b.zeros[s.Channel] = z
	}
}

// forget takes a channel out of the runs of a day since its last good zero: nobody knows when it went wrong.
func (d *dayData) forget(c int, since zeroTrack) {
	if d == nil || c < 0 {
		return
	}
	for i := range d.obs {
		o := &d.obs[i]
		k := slices.Index(o.have, c)
		if k < 0 || o.run.Boot == since.boot && o.run.End <= since.at {
			continue
		}
		o.have = slices.Delete(slices.Clone(o.have), k, k+1)
		o.value = slices.Delete(slices.Clone(o.value), k, k+1)
		o.se = slices.Delete(slices.Clone(o.se), k, k+1)
	}
	d.obs = slices.DeleteFunc(d.obs, func(o observation) bool { return len(o.have) == 0 })
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

// The bounds of a noise that is not what it was.
const (
	noiseLearn   = 3    // runs that teach a channel's noise in a gate set
	noiseGone    = 0.35 // of what it was: a tap that plugs up
	noiseGrown   = 4.0  // times what it was: a loose tube or plug, or a drive's cable; common practice, no source
	noiseRuns    = 4    // runs in a row
	leastNoisePa = 0.8  // below which turbulence cannot be told from the part's own noise
)

// noise looks for a tap whose turbulence is gone, since the mean of a plugged tap can look fine for long, and for a channel that
// has become noisy.
func (b *faultBook) noise(e *Estimator, r *steady.Run) {
	if r.Kind != steady.Running || len(e.collector.Gates) == 0 {
		return // without gates nobody knows what the air should sound like
	}
	key := e.newGateSet(r).key
	others := b.others(e, r, key)
	for _, s := range r.Channels {
		if !e.isPressure(s.Channel) || math.IsNaN(s.SD) || s.N < 20 || b.pulses[s.Channel].out {
			continue
		}
		t := b.tracks[s.Channel]
		if t == nil {
			t = &noiseTrack{sum: map[string]float64{}, count: map[string]float64{}}
			b.tracks[s.Channel] = t
		}
		if t.count[key] < noiseLearn {
			t.sum[key] += s.SD
			t.count[key]++
			continue
		}
		usual := t.sum[key] / t.count[key]
		if usual < leastNoisePa {
			continue
		}
		air := others(s.Channel)
		t.hear(r, s.SD/usual, min(max(air, quietest), 1), max(air, 1))
		e.tellNoise(s.Channel, t, s.SD/usual, r.At)
	}
}

// usual returns the standard deviation of a channel's samples in a gate set as it was at first, and whether that is known.
func (b *faultBook) usual(channel, set string) (float64, bool) {
	t := b.tracks[channel]
	if t == nil || t.count[set] < noiseLearn || t.sum[set] < leastNoisePa*t.count[set] {
		return 0, false
	}
	return t.sum[set] / t.count[set], true
}

// tellNoise tells of a channel whose noise has been other than usual for some runs, and of one whose noise is as usual again.
func (e *Estimator) tellNoise(channel string, t *noiseTrack, share float64, at time.Time) {
	switch {
	case t.quiet >= noiseRuns:
		if !e.distrusted[channel] { // a tap that lags has told of a choked trunk or a leak before it could be heard to plug up
			e.open.forget(slices.Index(e.cols.channels, channel), t.usual)
			e.endFault(finding.SensorZero, channel, at) // its consequence
		}
		e.distrusted[channel] = true
		e.raiseFault(finding.SensorPlugged, channel, at, share, "1",
			fmt.Sprintf("The tap of %s is plugging up: its turbulence is down to %.0f %% of what it was at these gates, though its mean may look right. It is left out of the estimate.", channel, 100*share))
	case t.loud >= noiseRuns:
		e.raiseFault(finding.SensorNoisy, channel, at, share, "1",
			fmt.Sprintf("Sensor %s has become noisy: it moves %.1f times as much as it did at these gates, and no other sensor does. Its readings count for less.", channel, share))
	case t.sound >= noiseRuns:
		e.endFault(finding.SensorNoisy, channel, at)
		if e.distrusted[channel] {
			delete(e.distrusted, channel)
			e.endFault(finding.SensorPlugged, channel, at)
		}
	}
}

// others returns by how much the air itself has become quieter or louder in a run, as the other tap that is loudest for its kind
// shows it; 1 where no other tells. A fan that moves half as much leaves all of them less turbulence, and no tap is plugged for
// that; two taps do not plug at once.
func (b *faultBook) others(e *Estimator, r *steady.Run, key string) func(channel string) float64 {
	left := map[string]float64{}
	for _, s := range r.Channels {
		t := b.tracks[s.Channel]
		if t == nil || t.count[key] < noiseLearn || !(s.SD > 0) || s.N < 20 || e.distrusted[s.Channel] {
			continue
		}
		left[s.Channel] = s.SD * t.count[key] / t.sum[key]
	}
	return func(channel string) float64 {
		most := 0.0
		for ch, x := range left {
			if ch != channel {
				most = max(most, x)
			}
		}
		if most == 0 { // no other tap tells
			return 1
		}
		return most
	}
}

// quietest is the most that the air's own quietness is believed.
const quietest = 0.5

// isPressure tells whether a channel is a pressure of this collector.
func (e *Estimator) isPressure(channel string) bool { return isDuctPressure(e.collector, channel) }

// raiseFault raises or refreshes a finding about an instrument.
func (e *Estimator) raiseFault(kind finding.Kind, channel string, at time.Time, size float64, unit, text string) {
	f := e.standing(kind, channel)
	if f == nil {
		n := finding.Finding{Collector: e.collector.Name, Kind: kind, Subject: channel, Priority: finding.Instrument,
			Raised: at, Onset: at, OnsetLow: at, OnsetHigh: at, Confidence: 0.99}
		n.ID = e.newID(kind, channel, at)
		e.findings = append(e.findings, n)
		f = &e.findings[len(e.findings)-1]
	}
	f.Size, f.SizeLow, f.SizeHigh, f.SizeUnit = size, size, size, unit
	row := diagnosis.Of(kind)
	if kind == finding.SensorDisagrees && !e.isPressure(channel) {
		row = diagnosis.FanMeter
	}
	f.Text, f.Action, f.ConfusableWith = text, row.Action(channel), row.Others()
}

// endFault ends a finding about an instrument.
func (e *Estimator) endFault(kind finding.Kind, channel string, at time.Time) {
	if f := e.standing(kind, channel); f != nil {
		f.Ended = at
	}
}
