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
	for i := len(o.have) - 1; i >= 0; i-- {
		c := o.have[i]
		if math.Abs(v.pred[c]) < leastToAsk && !e.cols.meters[c].fan {
			continue
		}
		ch := e.cols.channels[c]
		b.beat(e, ch, o, o.value[i]/v.pred[c])
		if b.pulses[ch].out {
			o.drop(i)
		}
	}
}

// drop leaves the i-th channel out of an observation.
func (o *observation) drop(i int) {
	o.have = slices.Delete(slices.Clone(o.have), i, i+1)
	o.value = slices.Delete(slices.Clone(o.value), i, i+1)
	o.se = slices.Delete(slices.Clone(o.se), i, i+1)
}

// beat takes in by how much of what is expected a channel answered in a run.
func (b *faultBook) beat(e *Estimator, ch string, o *observation, share float64) {
	p := b.pulses[ch]
	switch {
	case share < deadShare:
		if p.dead == 0 {
			p.from = o.run.Start
		}
		p.dead, p.live = p.dead+1, 0
	case share > liveShare:
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
		e.open.forget(slices.Index(e.cols.channels, ch), zeroTrack{at: p.from, boot: o.run.Boot})
	}
	if p.out && p.dead > 0 {
		e.tellDead(ch, share, o.run.At)
	}
}

// tellDead raises the finding of a channel that does not answer the fan.
func (e *Estimator) tellDead(ch string, share float64, at time.Time) {
	words := "reads next to nothing while the fan runs: its tube has come off or is shut, or the sensor is dead"
	if share < -deadShare {
		words = "reads the wrong way while the fan runs: its tubes are swapped, or one of them has come off"
	}
	if !e.isPressure(ch) {
		words = "reads next to nothing while the pressures say that the fan runs: it is dead, or no longer at the fan"
	}
	e.raiseFault(finding.SensorDisagrees, ch, at, share, "1",
		fmt.Sprintf("Sensor %s %s. It is left out of the estimate.", ch, words))
}

// silentRuns is in how many runs in a row a channel must be missing to be told as lost: a gap in a record is no fault.
const silentRuns = 4

// silence looks for channels of the estimate that have read before and are missing from the runs.
func (b *faultBook) silence(e *Estimator, r *steady.Run) {
	if r.Kind == steady.Unknown {
		return
	}
	for _, ch := range e.cols.channels {
		s := b.silent[ch]
		switch {
		case channelOf(r, ch) != nil:
			if s.told {
				e.endFault(finding.SensorLost, ch, r.At)
			}
			s = silentTrack{seen: true}
		case s.seen:
			s.runs++
			if s.runs >= silentRuns {
				s.told = true
				e.raiseFault(finding.SensorLost, ch, r.At, math.NaN(), "",
					fmt.Sprintf("Sensor %s gives no reading while the fan runs. What depends on it cannot be told meanwhile.", ch))
			}
		}
		b.silent[ch] = s
	}
}

// silentTrack is for how long a channel has been missing.
type silentTrack struct {
	seen, told bool
	runs       int
}
