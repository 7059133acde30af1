package estimate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"ductward/internal/finding"
	"ductward/internal/steady"
)

// A tube that came off, a sensor that died and tubes that were swapped read next to nothing, or the wrong way, while the
// fan runs. No change of the plant does that, and in the estimate it would pass for everything at once.
const (
	deadShare  = 0.15 // of what the model expects: no leak, blockage or belt leaves so little
	liveShare  = 0.5
	deadRuns   = 2    // in a row
	leastToAsk = 40.0 // Pa that must be expected: below that the rest may be noise
)

// A difference of pressures whose tube on the high side has come off reads its low side against the room: the whole suction
// there. A filter so loaded that its drop is as large would leave the ducts next to no suction.
const (
	loudShare  = 1.5  // of what the model expects, at least
	asideNear  = 0.2  // of that suction: how near to it the reading lies
	othersNear = 0.25 // of what is expected: how near the other taps must be to it
)

// pulse is how a channel has answered lately.
type pulse struct {
	dead, live int
	from       time.Duration // monotonic start of the first dead run in a row
	out        bool          // it is left out
}

// pulse looks whether each channel of a run answers the fan at all, and leaves out of the run those that are known not to.
func (b *faultBook) pulse(e *Estimator, o *observation) {
	if e.cal == nil {
		return
	}
	v, _, _, err := e.viewer.at(o.set, &state{logFilter: e.filter.expect(e, nil), globals: e.cal.globals}, o.air)
	if err != nil {
		return
	}
	answers := make([]answer, len(o.have))
	for i, c := range o.have {
		answers[i] = answer{share: o.value[i] / v.pred[c], aside: e.hearsOneSide(o, v, i)}
	}
	for i := len(o.have) - 1; i >= 0; i-- {
		c := o.have[i]
		ch := e.cols.channels[c]
		if math.Abs(v.pred[c]) >= leastToAsk || e.cols.meters[c].fan {
			b.beat(e, ch, o, answers[i])
		}
		if b.pulses[ch].out {
			o.drop(i)
		}
	}
}

// answer is how a channel answers the fan in a run.
type answer struct {
	share float64 // of what is expected
	aside bool    // it reads one of its sides alone
}

// dead tells whether no fan and no duct makes a channel read so.
func (a answer) dead() bool { return a.share < deadShare || a.aside }

// hearsOneSide tells whether the i-th channel of a run reads the whole suction at its low side while the other taps read about
// what they should.
func (e *Estimator) hearsOneSide(o *observation, v *view, i int) bool {
	c := o.have[i]
	if !(o.value[i] > loudShare*v.pred[c]) || !(math.Abs(o.value[i]/v.aside[c]-1) < asideNear) {
		return false
	}
	others := 0
	for k, other := range o.have {
		switch {
		case k == i || e.cols.meters[other].fan || math.Abs(v.pred[other]) < leastToAsk:
		case math.Abs(o.value[k]/v.pred[other]-1) > othersNear:
			return false
		default:
			others++
		}
	}
	return others > 0
}

// drop leaves the i-th channel out of an observation.
func (o *observation) drop(i int) {
	o.have = slices.Delete(slices.Clone(o.have), i, i+1)
	o.value = slices.Delete(slices.Clone(o.value), i, i+1)
	o.se = slices.Delete(slices.Clone(o.se), i, i+1)
}

// beat takes in how a channel answered in a run.
func (b *faultBook) beat(e *Estimator, ch string, o *observation, a answer) {
	p := b.pulses[ch]
	switch {
	case a.dead():
		if p.dead == 0 {
			p.from = o.run.Start
		}
		p.dead, p.live = p.dead+1, 0
	case a.share > liveShare:
		p.dead, p.live = 0, p.live+1
	}
	if p.out && p.live >= deadRuns {
		p.out = false
		e.endFault(finding.SensorDisagrees, ch, o.run.At)
	}
	began := !p.out && p.dead >= deadRuns
	p.out = p.out || began
	b.pulses[ch] = p
	if began {
		e.open.forget(slices.Index(e.cols.channels, ch), moment{boot: o.run.Boot, mono: p.from})
	}
	if p.out && p.dead > 0 {
		e.tellDead(ch, a, o.run.At)
	}
}

// tellDead raises the finding of a channel that does not answer the fan.
func (e *Estimator) tellDead(ch string, a answer, at time.Time) {
	words := "reads next to nothing while the fan runs: its tube has come off or is shut, or the sensor is dead"
	switch {
	case a.aside:
		words = "reads the whole suction on one of its sides, while the other sensors read as they should: the tube at its other side has come off, is split or is shut"
	case a.share < -deadShare:
		words = "reads the wrong way while the fan runs: its tubes are swapped, or one of them has come off"
	}
	if !e.isPressure(ch) {
		words = "reads next to nothing while the pressures say that the fan runs: it is dead, or no longer at the fan"
	}
	e.raiseFault(finding.SensorDisagrees, ch, at, a.share, "1",
		fmt.Sprintf("Sensor %s %s. It is left out of the estimate.", ch, words))
}

// silentRuns is in how many runs in a row a channel must be missing to be told as lost: a gap in a record is no fault. A sensor of the
// room's air may be read seldom, and many runs are short: it is missing after silentHours of fan besides.
const (
	silentRuns  = 4
	silentHours = 3.0
)

// silence looks for channels of the estimate, and for sensors of the air, that have read before and are missing from the runs.
func (b *faultBook) silence(e *Estimator, r *steady.Run) {
	if r.Kind == steady.Unknown {
		return
	}
	for _, ch := range e.listened() {
		b.miss(e, r, ch, 0, "What depends on it cannot be told meanwhile.")
	}
	for _, ch := range []string{e.temperature, e.barometer, e.humidity} {
		if ch != "" {
			b.miss(e, r, ch, silentHours, "What it usually reads is taken instead, and all that hangs on the air is less sure.")
		}
	}
}

// listened lists the channels of pressures and of the fan that the estimate reads.
func (e *Estimator) listened() []string {
	switch {
	case e.viewer != nil:
		return e.cols.channels
	case e.lump != nil && e.lump.velocityCh != "":
		return []string{e.lump.dropCh, e.lump.statCh, e.lump.velocityCh}
	case e.lump != nil:
		return []string{e.lump.dropCh, e.lump.statCh}
	case e.curve != nil:
		return []string{e.curve.drop, e.curve.static}
	}
	return nil
}

// miss takes in whether a run has a channel.
func (b *faultBook) miss(e *Estimator, r *steady.Run, ch string, hours float64, words string) {
	s := b.silent[ch]
	switch {
	case channelOf(r, ch) != nil:
		if s.told {
			e.endFault(finding.SensorLost, ch, r.At)
		}
		s = silentTrack{seen: true}
	case s.seen:
		s.runs, s.hours = s.runs+1, s.hours+r.FanHours
		if s.runs >= silentRuns && s.hours >= hours {
			s.told = true
			e.raiseFault(finding.SensorLost, ch, r.At, math.NaN(), "", fmt.Sprintf("Sensor %s gives no reading while the fan runs. %s", ch, words))
		}
	}
	b.silent[ch] = s
}

// silentTrack is for how long a channel has been missing.
type silentTrack struct {
	seen, told bool
	runs       int
	hours      float64 // of fan
}
