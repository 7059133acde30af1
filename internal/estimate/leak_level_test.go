package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/detect"
)

// TestWhatTheBaselineIsOffByStays: the mean of n days knows its own errors √n times better than one day and the baseline's no
// better, JCGM 100:2008, 5.2 (a correlation of 1): o²/n + s².
func TestWhatTheBaselineIsOffByStays(t *testing.T) {
	const own, shared = 0.8, 1.1
	var l leakLevel
	for n := 1; n <= 50; n++ {
		l.move(Value{V: 2, SE: math.Hypot(own, shared)}, shared, 0)
		assert.InEpsilon(t, own*own/float64(n)+shared*shared, l.variance(), 1e-9, "%d days", n)
	}
}

// TestALevelsStatedErrorIsTrue: of many records of a level that walks, with days of very different worth and a baseline that is
// off, the squared error of the level at the end over its stated variance is 1 on the mean.
func TestALevelsStatedErrorIsTrue(t *testing.T) {
	const records, days, walk = 4000, 30, 0.3
	r := rand.New(rand.NewPCG(23, 5))
	sum := 0.0
	for range records {
		var l leakLevel
		base, truth := r.NormFloat64(), 0.0
		for d := range days {
			if d > 0 {
				truth += walk * r.NormFloat64()
			}
			own, shared := 4.0, 0.5 // an ordinary day
			if d%5 == 4 {
				own, shared = 0.7, 1.1 // one with a check
			}
			y := truth + shared*base + own*r.NormFloat64()
			l.step(Value{V: y, SE: math.Hypot(own, shared)}, shared, walk*walk)
		}
		e := l.Mean - truth
		sum += e * e / l.variance()
	}
	assert.InDelta(t, 1, sum/records, 4*math.Sqrt(2.0/records))
}

// TestALeakOfThisMorningIsNotHidden: of records that are quiet but for a leak which begins on one day in a hundred, of a size drawn
// as the watch believes it, the level's interval of 90 % holds the truth as often as it says, on the day of the leak too.
func TestALeakOfThisMorningIsNotHidden(t *testing.T) {
	const records, days, own, hour = 6000, 25, 9.0, 3600
	r := rand.New(rand.NewPCG(29, 7))
	held, fresh, heldFresh := 0.0, 0.0, 0.0
	for range records {
		var l leakLevel
		truth, today := 0.0, false
		for range days {
			truth += dailyGrowth * r.NormFloat64()
			if today = l.Known && r.Float64() < suddenLeak; today {
				truth += leakPrior * r.NormFloat64()
			}
			l.step(Value{V: truth + own/hour*r.NormFloat64(), SE: own / hour}, 0, dailyGrowth*dailyGrowth)
		}
		in := math.Abs(l.Mean-truth) <= detect.Quantile(0.9)*math.Sqrt(l.variance())
		if in {
			held++
		}
		if today {
			fresh++
			if in {
				heldFresh++
			}
		}
	}
	assert.InDelta(t, 0.9, held/records, 0.04)
	assert.Greater(t, fresh, 40.0)
	assert.Greater(t, heldFresh/fresh, 0.7, "of %g", fresh)
}

// TestALevelFollowsWhatIsFarBeyondBelief: a trunk that has come apart lets in far more than any leak that is believed in. The level
// is there the same evening, and a day that tells no error leaves it as it is.
func TestALevelFollowsWhatIsFarBeyondBelief(t *testing.T) {
	var l leakLevel
	for range 5 {
		l.step(Value{V: 0, SE: 1.0 / 3600}, 0, dailyGrowth*dailyGrowth)
	}
	l.step(Value{V: 9000.0 / 3600, SE: 1.0 / 3600}, 0, dailyGrowth*dailyGrowth)
	assert.InEpsilon(t, 9000.0/3600, l.Mean, 1e-3)
	was := l.Mean
	l.step(Value{V: 1, SE: math.NaN()}, 0, dailyGrowth*dailyGrowth)
	assert.InDelta(t, was, l.Mean, 0)
	assert.False(t, math.IsNaN(l.variance()))
}
