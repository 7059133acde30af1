package watch

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/reading"
)

// outages is what the sources have told of channels that yield no readings. It is kept apart from the estimate, which
// knows nothing but runs and journal: those are stored, and a restart tells them again.
type outages struct {
	collector string
	zone      *time.Location // of the days in identities
	told      []finding.Finding
	codes     map[string]string // by channel: why it is silent, by name
}

// standing returns the outage of a channel that goes on, nil if there is none.
func (o *outages) standing(channel string) *finding.Finding {
	for i := range o.told {
		if f := &o.told[i]; f.Subject == channel && f.Active() {
			return f
		}
	}
	return nil
}

// begin takes in that a channel yields no readings, or that the reason is another one now.
func (o *outages) begin(channel, code, text string, at time.Time) {
	kind := finding.SensorLost
	if code == "stuck" {
		kind = finding.SensorStuck
	}
	f := o.standing(channel)
	if f != nil && f.Kind != kind {
		f.Ended, f = at, nil
	}
	if f == nil {
		o.told = append(o.told, finding.Finding{
			ID:        finding.NewID(o.told, o.collector, string(kind)+".source", channel, o.civil(at)),
			Collector: o.collector, Kind: kind, Subject: channel, Priority: finding.Instrument, Confidence: 0.99,
			Raised: at, Onset: at, OnsetLow: at, OnsetHigh: at,
			Size: math.NaN(), SizeLow: math.NaN(), SizeHigh: math.NaN(),
			Action: diagnosis.Of(kind).Action(channel), ConfusableWith: diagnosis.Of(kind).Others(),
		})
		f = &o.told[len(o.told)-1]
	}
	if o.codes == nil {
		o.codes = map[string]string{}
	}
	o.codes[channel] = code
	f.Text = fmt.Sprintf("Sensor %s gives no reading: %s. What depends on it cannot be told meanwhile.", channel, text)
}

func (o *outages) civil(t time.Time) time.Time {
	if t.IsZero() || o.zone == nil {
		return t
	}
	return t.In(o.zone)
}

// end takes in that a channel yields readings again.
func (o *outages) end(channel string, at time.Time) {
	if f := o.standing(channel); f != nil {
		f.Ended = at
	}
}

// oneTrouble is how far apart channels may fall silent in one way for it to be one trouble: a plug, a bus, a broker. Each is told
// once it has been silent for some seconds, by its own schedule.
const oneTrouble = 30 * time.Second

// together returns the outages, those that go on with one trouble under the one of them whose name comes first, a sensor before a
// switch: a restart, after which they begin in another order, then tells the same.
func (o *outages) together() []finding.Finding {
	out := slices.Clone(o.told)
	var on []*finding.Finding
	for i := range out {
		if out[i].Active() {
			on = append(on, &out[i])
		}
	}
	slices.SortStableFunc(on, func(a, b *finding.Finding) int { return a.Onset.Compare(b.Onset) })
	for len(on) > 0 {
		n := 1
		for n < len(on) && on[n].Kind == on[0].Kind && o.codes[on[n].Subject] == o.codes[on[0].Subject] && on[n].Onset.Sub(on[0].Onset) <= oneTrouble {
			n++
		}
		first := slices.MinFunc(on[:n], func(a, b *finding.Finding) int {
			return cmp.Or(sensorsFirst(a.Subject)-sensorsFirst(b.Subject), strings.Compare(a.Subject, b.Subject))
		})
		for _, f := range on[:n] {
			if f != first {
				f.Under = first.ID
			}
		}
		on = on[n:]
	}
	return out
}

func sensorsFirst(channel string) int {
	if reading.IsSwitch(channel) {
		return 1
	}
	return 0
}

// lateRun is how long after an outage a run may end that had no reading of the channel: a run is an hour at most.
const lateRun = time.Hour

// among returns the estimate's findings and the outages as one list, oldest first. What the estimate says of a channel
// that it misses is left out where its source has told why.
func (o *outages) among(found []finding.Finding) []finding.Finding {
	if len(o.told) == 0 {
		return slices.Clone(found)
	}
	out := slices.DeleteFunc(slices.Clone(found), func(f finding.Finding) bool {
		return f.Kind == finding.SensorLost && slices.ContainsFunc(o.told, func(t finding.Finding) bool {
			return t.Subject == f.Subject && !f.Raised.Before(t.Raised) && (t.Active() || !f.Raised.After(t.Ended.Add(lateRun)))
		})
	})
	out = append(out, o.together()...)
	slices.SortStableFunc(out, func(a, b finding.Finding) int { return a.Raised.Compare(b.Raised) })
	return out
}
