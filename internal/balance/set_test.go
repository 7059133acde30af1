package balance

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestSetAgainstAMap compares sets with a map of the same members, over all of their words.
func TestSetAgainstAMap(t *testing.T) {
	const seed = 9
	rnd := rand.New(rand.NewPCG(seed, 0))
	draw := func() (set, map[int]bool) {
		s, m := set{}, map[int]bool{}
		for range rnd.IntN(12) {
			i := rnd.IntN(most)
			s, m[i] = s.with(i), true
		}
		return s, m
	}
	for range 500 {
		s, m := draw()
		u, n := draw()
		assert.Equal(t, len(m), s.size())
		var want []int
		inside := true
		for i := range most {
			assert.Equal(t, m[i], s.has(i))
			if m[i] {
				want = append(want, i)
				inside = inside && n[i]
			}
		}
		assert.True(t, slices.Equal(want, s.members()), "%v, %v", want, s.members())
		assert.Equal(t, inside, s.in(u))
		for _, i := range want {
			assert.False(t, s.without(i).has(i))
			assert.True(t, s.without(i).in(s))
		}
		if s != u {
			assert.NotEqual(t, s.before(u), u.before(s), "seed %d: one of two sets comes first", seed)
		}
	}
}

func TestLargestAndSmallest(t *testing.T) {
	of := func(members ...int) set {
		s := set{}
		for _, i := range members {
			s = s.with(i)
		}
		return s
	}
	sets := []set{of(2), of(1), of(1, 2), of(2, 3), of(1, 2, 70), of(4, 200), of(2)}
	assert.Equal(t, []set{of(1, 2, 70), of(2, 3), of(4, 200)}, maximal(sets))
	assert.Equal(t, []set{of(1), of(2), of(4, 200)}, minimal(sets))
}
