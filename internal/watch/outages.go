package watch

import (
	"fmt"
	"math"
	"slices"
	"time"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
)

// outages is what the sources have told of channels that yield no readings. It is kept apart from the estimate, which
// knows nothing but runs and journal: those are stored, and a restart tells them again.
type outages struct {
	collector string
	zone      *time.Location // of the days in identities
	told      []finding.Finding
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
	out = append(out, o.told...)
	slices.SortStableFunc(out, func(a, b finding.Finding) int { return a.Raised.Compare(b.Raised) })
	return out
}
