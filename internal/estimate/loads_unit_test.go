package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/shop"
)

// TestUsualDustIsNotFast: twenty years of a filter whose daily dust scatters by a third, lognormally, read to a hundredth and
// cleaned every three weeks or so, are told once at most; days of five times as much are told within three. Seed 1.
func TestUsualDustIsNotFast(t *testing.T) {
	const perHour, hours = 0.011, 6.4
	r := rand.New(rand.NewPCG(1, 0))
	at := time.Date(2027, 3, 1, 15, 0, 0, 0, time.UTC)
	var e *Estimator
	level := 1.0
	begin := func() {
		e, level = &Estimator{cal: &calibration{}, viewer: &viewer{}, collector: &shop.Collector{Name: "main"}}, 1
		e.site.Location = time.UTC
	}
	day := func(times float64) {
		at = at.AddDate(0, 0, 1)
		before := e.filter.hours
		e.filter.hours += hours
		dust := perHour * hours * times * math.Exp(0.35*r.NormFloat64()-0.06)
		level += dust
		mid := math.Log(level-dust/2) + 0.01*r.NormFloat64()
		e.lastAt = at
		e.filter.points = append(e.filter.points, filterPoint{hours: before + hours/2, at: at, log: Value{mid, 0.01}, humid: math.NaN()})
		e.watchLoading()
		if level > 2.2 {
			e.filter.slopes = append(e.filter.slopes, e.loading().V)
			e.filter.points, level = nil, 1
		}
	}
	told := func() (n int) {
		for _, f := range e.findings {
			if f.Kind == finding.FilterLoadsFast {
				n++
			}
		}
		return n
	}
	begin()
	for range 20 * 250 {
		day(1)
	}
	assert.LessOrEqual(t, told(), 1, "of twenty years")
	late := 0
	for range 20 { // the shop's first cycle, where the days before are all that is known
		begin()
		for range 8 {
			day(1)
		}
		assert.Zero(t, told())
		for range 3 {
			day(5)
		}
		if told() == 0 {
			late++
		}
	}
	assert.LessOrEqual(t, late, 2, "of twenty full bins")
}
