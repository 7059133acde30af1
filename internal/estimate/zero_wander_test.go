package estimate

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/steady"
)

// stops reads zeros that walk by a standard deviation in Pa from one stop to the next, so many hours apart, with noise of
// their own, and returns what is known of them then.
func stops(z zeroTrack, n int, apart time.Duration, walk, noise float64, seed uint64) zeroTrack {
	r := rand.New(rand.NewPCG(seed, 17))
	level, at := z.last, z.taken.mono
	for range n {
		at += apart
		level += walk * r.NormFloat64()
		run := steady.Run{Kind: steady.Zero, Boot: 1, End: at}
		s := steady.Summary{Mean: level + noise*r.NormFloat64(), SE: noise}
		z.learn(&s, &run)
		z.last, z.se, z.taken = s.Mean, s.SE, endOf(&run)
	}
	return z
}

// TestAZeroIsAsGoodAsItsSensorShows: the part's usual drift gives way to what the stops show, in both directions, and a year of
// quiet zeros is forgotten within weeks of worse ones.
func TestAZeroIsAsGoodAsItsSensorShows(t *testing.T) {
	z := zeroTrack{taken: moment{boot: 1}}
	assert.InDelta(t, zeroDrift, z.wanders(time.Hour, zeroDrift), 1e-12, "nothing seen yet")
	quiet := stops(z, 300, 3*time.Hour, 0.1, 0.05, 1)
	assert.InDelta(t, 0.12, quiet.wanders(time.Hour, zeroDrift), 0.03, "the prior is still in it")
	still := stops(z, 300, 3*time.Hour, 0, 0.05, 2)
	assert.Less(t, still.wanders(time.Hour, zeroDrift), 0.1, "the noise of the zeros themselves is none of it")
	assert.Greater(t, still.wanders(time.Hour, zeroDrift), 0.05, "it is never exact")
	aged := stops(quiet, 300, 3*time.Hour, 1.5, 0.05, 3)
	assert.InDelta(t, 1.5, aged.wanders(time.Hour, zeroDrift), 0.3)
}

// TestAZeroOfAnotherDayIsLessSure: what goes on between two stops of a day says nothing of a night, and nights add up as a walk.
func TestAZeroOfAnotherDayIsLessSure(t *testing.T) {
	z := stops(zeroTrack{taken: moment{boot: 1}}, 100, 2*time.Hour, 0.02, 0.02, 4)
	z = stops(z, 100, 24*time.Hour, 0.6, 0.02, 5)
	near, night := z.wanders(time.Hour, zeroDrift), z.wanders(14*time.Hour, zeroDrift)
	assert.Less(t, near, 0.1)
	assert.InDelta(t, 0.6, night, 0.12)
	assert.InEpsilon(t, 2*night, z.wanders(4*24*time.Hour, zeroDrift), 1e-9)

	loud := stops(zeroTrack{taken: moment{boot: 1}}, 100, 2*time.Hour, 1, 0.02, 6)
	assert.GreaterOrEqual(t, loud.wanders(14*time.Hour, zeroDrift), loud.wanders(time.Hour, zeroDrift),
		"a night is never surer than an hour")
}

// TestZerosThatCannotBeOrderedTeachNothing: of another boot, with no civil time.
func TestZerosThatCannotBeOrderedTeachNothing(t *testing.T) {
	z := zeroTrack{taken: moment{boot: 1, mono: time.Hour}}
	s := steady.Summary{Mean: 3, SE: 0.1}
	z.learn(&s, &steady.Run{Boot: 2, End: time.Minute})
	assert.Zero(t, z.near)
	assert.Zero(t, z.night)
	z.taken.at = time.Date(2027, 3, 1, 16, 0, 0, 0, time.UTC)
	z.learn(&s, &steady.Run{Boot: 2, End: time.Minute, At: z.taken.at.Add(15 * time.Hour)})
	assert.InDelta(t, 1, z.night.pairs, 1e-12)
	assert.Zero(t, z.near)
}
