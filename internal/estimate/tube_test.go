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
)

// TestATubeOnOneSide: a tube that came off one side of a sensor leaves it the other, which it reads against the room; one that
// is plugged holds what stood in it, which shows when the fan stops. Both are that sensor's, and over when they are mended.
func TestATubeOnOneSide(t *testing.T) {
	t.Parallel()
	of := func(channel string, side float64, hour time.Duration) []plant.Fault {
		f := trouble(plant.SideEvent, channel, side)
		f[0].At, f[0].Until = hour*time.Hour, rowDay+3
		return f
	}
	mended := func(words string) func(*testing.T, string, *lived, finding.Finding) {
		return func(t *testing.T, what string, l *lived, f finding.Finding) {
			assert.Equal(t, l.faults[0].Name, f.Subject, what)
			assert.Contains(t, f.Text, words, what)
			assert.Equal(t, rowDay, daysUntil(f.Raised), what)
			assert.Equal(t, rowDay+3, daysUntil(f.Ended), what)
			assert.Empty(t, l.leaks(), what)
			last := l.watched.Days[len(l.watched.Days)-1]
			assert.InEpsilon(t, l.truth[rowDay+4].ratio/l.baselineTruth(), last.FilterRatio.V, 0.04, what)
		}
	}
	tellRows(t, 1201, rowDay+5, []row{
		{trouble: "off the dirty side, A", shop: fitted("A", true), faults: of("main/filter drop", 1, 5),
			told: finding.SensorDisagrees, also: mended("whole suction")},
		{trouble: "off the clean side, A", shop: fitted("A", true), faults: of("main/filter drop", -1, 5),
			told: finding.SensorDisagrees, also: mended("wrong way")},
		{trouble: "plugged at the clean side, A", shop: fitted("A", true), faults: of("main/filter drop", -1, 11),
			told: finding.SensorZero, also: mended("with the fan off")},
		{trouble: "off the nose of the pitot tube, D", shop: fitted("D", true), faults: of("main/trunk velocity", 1, 5),
			told: finding.SensorDisagrees, also: mended("whole suction")},
		{trouble: "plugged at the nose of the pitot tube, B", shop: fitted("B", true), faults: of("main/trunk velocity", 1, 11),
			told: finding.SensorZero, also: mended("with the fan off")},
	})
}

// TestWaterInATube: it stands in the low point of the tube, so that the sensor is off by its height with the fan on and off, and
// moves to and fro with the air.
func TestWaterInATube(t *testing.T) {
	t.Parallel()
	const height = 9.81 * 12 // Pa, of 12 mm
	water := func(channel string) func(*reading.Reading) bool {
		return func(r *reading.Reading) bool {
			if r.Channel == channel && r.Mono >= rowDay*24*time.Hour+5*time.Hour {
				slug := math.Sin(2 * math.Pi * r.Mono.Seconds() / 97) // it swings in a minute and a half
				r.Value += height * (1 + 0.1*slug)
				r.SD = math.Hypot(r.SD, 3)
			}
			return true
		}
	}
	about := func(channel string) func(*testing.T, string, *lived, finding.Finding) {
		return func(t *testing.T, what string, _ *lived, f finding.Finding) {
			assert.Equal(t, channel, f.Subject, what)
			assert.Contains(t, f.Action, "water", what)
			assert.True(t, f.Active(), what)
		}
	}
	tellRows(t, 1211, rowDay+2, []row{
		{trouble: "water, A", shop: fitted("A", true), heard: water("main/filter drop"), told: finding.SensorZero, also: about("main/filter drop")},
		{trouble: "water, B", shop: fitted("B", true), heard: water("main/trunk velocity"), told: finding.SensorZero, also: about("main/trunk velocity")},
	})
}
