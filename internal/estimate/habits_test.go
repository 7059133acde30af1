//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/trial"
)

// TestPulsesAreNoCleanings: a filter that cleans itself by pulses while the fan runs has a drop that saws by a tenth every six
// minutes, with a spike at each pulse. Read once a second or once a minute, with the scatter of each row or without, no pulse
// passes for a cleaning nor the saw for anything else, and the true cleanings are told as ever.
func TestPulsesAreNoCleanings(t *testing.T) {
	t.Parallel()
	const every = 6 * time.Minute
	pulses := func(o *plant.WorkOptions) {
		o.AllDays, o.Pulse, o.PulseShare, o.LoadingDays = true, every, 0.1, 12
	}
	rows := func(span time.Duration) func(*trial.Record) {
		return func(r *trial.Record) { r.Span = span }
	}
	spiked := func(r *reading.Reading) bool { // the jet of a pulse, for a second
		if r.Channel == "main/filter drop" && r.Mono%every < time.Second && r.Value > 100 {
			r.Value -= 400
		}
		return true
	}
	bare := func(r *reading.Reading) bool {
		r.SD, r.N = math.NaN(), 0
		return true
	}
	cleanings := 0
	for i, l := range many(t, []scene{
		{seed: 1271, days: 10, shop: fitted("A", true), work: pulses, read: rows(time.Second), heard: spiked},
		{seed: 1272, days: 15, shop: fitted("B", true), work: pulses, read: rows(time.Minute)},
		{seed: 1273, days: 16, shop: fitted("A", true), work: pulses, read: rows(time.Minute), heard: bare},
	}) {
		cleanings += len(l.cleaned)
		assert.Empty(t, l.alarms(), "%d: %s", i, say(l.alarms()))
		assert.Len(t, l.of(finding.FilterCleaned), len(l.cleaned), "%d: %s", i, say(l.of(finding.FilterCleaned)))
		for _, d := range l.watched.Days {
			if is := l.on(d.Date).ratio / l.baselineTruth(); !math.IsNaN(d.FilterRatio.V) {
				assert.InDelta(t, 1, d.FilterRatio.V/is, 0.04, "%d, on %s", i, d.Date)
			}
		}
	}
	assert.Positive(t, cleanings)
}

// TestChipsAreNoBlockage: from a day on machines cut heavily, and their drops lose a tenth or a third more while they do. That
// follows the cut, and is neither a blocked drop nor anything else; a drop in which chips lie is still told as that.
func TestChipsAreNoBlockage(t *testing.T) {
	t.Parallel()
	silent := func(t *testing.T, what string, l *lived, _ finding.Finding) {
		assert.Empty(t, l.of(finding.DropBlocked, finding.OpenSideChanged), what)
		assert.Empty(t, l.leaks(), what)
	}
	all, one := trouble(plant.ChipEvent, "", 1.15), trouble(plant.ChipEvent, "jointer", 1.3)
	tellRows(t, 1281, rowDay+4, []row{
		{trouble: "all cut, A", shop: fitted("A", true), faults: all, also: silent},
		{trouble: "all cut, D", shop: fitted("D", true), faults: all, also: silent},
		{trouble: "one cuts heavily, A", shop: fitted("A", true), faults: one, also: silent},
		{trouble: "one cuts, and lies half full, A", shop: fitted("A", true), faults: append(one, trouble(plant.BlockEvent, "jointer", 2.5)...),
			told: finding.DropBlocked, within: 3},
	})
}
