package estimate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"ductward/internal/finding"
	"ductward/internal/steady"
)

// noiseTrack is the noise of one channel over its mean, by gate set, as it was at first and as it is.
type noiseTrack struct {
	sum   map[string]float64 // Pa, of the first runs
	least map[string]float64 // Pa, of the quietest of them: one in which a gate moved unnoticed is many times as loud as the air
	count map[string]int     // how many they are
	quiet int                // runs in a row with the noise gone
	loud  int                // with the noise grown
	sound int
	usual moment // the end of the last run that did not sound quiet
}

// hear counts a run whose noise is so many times that of the quietest run at first, and so many times the usual.
func (t *noiseTrack) hear(r *steady.Run, least, share, quieter, louder float64) {
	was := *t
	t.quiet, t.loud, t.sound = 0, 0, 0
	switch {
	case least < noiseGone*quieter:
		t.quiet = was.quiet + 1
	case share > noiseGrown*louder:
		t.loud = was.loud + 1
	default:
		t.sound = was.sound + 1
	}
	if t.quiet == 0 {
		t.usual = endOf(r)
	}
}

// unheard takes back that the last run was loud: another gate was open than it was told with.
func (b *faultBook) unheard() {
	for _, t := range b.tracks {
		t.loud = 0
	}
}

// The bounds of a noise that is not what it was.
const (
	noiseLearn   = 3    // runs that teach a channel's noise in a gate set
	noiseBlind   = 30   // where nothing tells the gates
	noiseGone    = 0.35 // of what it was: a tap that plugs up
	noiseGrown   = 4.0  // times what it was: a loose tube or plug, or a drive's cable; common practice, no source
	noiseRuns    = 4    // runs in a row
	leastNoisePa = 0.8  // below which turbulence cannot be told from the part's own noise
)

// noise looks for a tap whose turbulence is gone, since the mean of a plugged tap can look fine for long, and for a channel that
// has become noisy.
func (b *faultBook) noise(e *Estimator, r *steady.Run) {
	if r.Kind != steady.Running {
		return
	}
	learn, blind := noiseLearn, len(e.collector.Gates) == 0
	if blind { // nobody knows what the air should sound like, but what it sounds like at least
		learn = noiseBlind
	}
	key := e.newGateSet(r).key
	others := b.others(e, r, key)
	for _, s := range r.Channels {
		if !e.isPressure(s.Channel) || math.IsNaN(s.SD) || s.N < 20 || b.pulses[s.Channel].out {
			continue
		}
		t := b.tracks[s.Channel]
		if t == nil {
			t = &noiseTrack{sum: map[string]float64{}, least: map[string]float64{}, count: map[string]int{}}
			b.tracks[s.Channel] = t
		}
		if t.count[key] < learn {
			if t.count[key] == 0 || s.SD < t.least[key] {
				t.least[key] = s.SD
			}
			t.sum[key] += s.SD
			t.count[key]++
			continue
		}
		usual := t.sum[key] / float64(t.count[key])
		if usual < leastNoisePa {
			continue
		}
		air, loud := others(s.Channel), s.SD/usual
		if blind {
			loud = 1
		}
		t.hear(r, s.SD/t.least[key], loud, min(max(air, quietest), 1), max(air, 1))
		e.tellNoise(s.Channel, t, s.SD/usual, r.At)
	}
}

// usual returns the standard deviation of a channel's samples in a gate set as it was at first, and whether that is known.
func (b *faultBook) usual(channel, set string) (float64, bool) {
	t := b.tracks[channel]
	if t == nil || t.count[set] < noiseLearn {
		return 0, false
	}
	mean := t.sum[set] / float64(t.count[set])
	return mean, mean >= leastNoisePa
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
		left[s.Channel] = s.SD * float64(t.count[key]) / t.sum[key]
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
