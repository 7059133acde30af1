package store

import (
	"fmt"
	"math"
	"slices"
)

// compare tests that roll-ups count the same.
func (c *checker) compare(l *level, key rollKey, got, want []roll, of string) {
	if len(got) != len(want) {
		c.breach(7, l.bucket, key.String(), "has %d roll-ups, and %s make %d", len(got), of, len(want))
		return
	}
	for i := range got {
		g, w := &got[i], &want[i]
		if g.slot != w.slot || g.n != w.n || g.min != w.min || g.max != w.max ||
			math.Abs(g.mean()-w.mean()) > meanTolerance*max(math.Abs(g.min), math.Abs(g.max)) {
			c.breach(7, l.bucket, key.String(), "roll-up %d (n %d, %g to %g, mean %g) is not that of %s (n %d, %g to %g, mean %g)",
				g.slot, g.n, g.min, g.max, g.mean(), of, w.n, w.min, w.max, w.mean())
			return
		}
	}
}

// meanTolerance is for the rounding of means to 32 bits of mantissa, once at each of up to some thousand additions to
// one roll-up of a day.
const meanTolerance = 1e-6

// rollUps tests invariant 6 and the rest of 7.
func (c *checker) rollUps() {
	for i := range levels {
		l := &levels[i]
		c.each(l.bucket, func(k, v []byte) {
			key, ok := parseRollKey(k)
			if !ok {
				c.breach(6, l.bucket, fmt.Sprintf("%x", k), "is no key of roll-ups")
				return
			}
			c.known(l.bucket, key.String(), key.channel, key.boot)
			rs, err := readRolls(k, v, l)
			if err == nil && (l.period(rs[0].slot) != int64(key.period) || l.period(rs[len(rs)-1].slot) != int64(key.period)) {
				err = fmt.Errorf("holds slots of another period")
			}
			if err != nil {
				c.breach(6, l.bucket, key.String(), "%v", err)
				return
			}
			c.below(i, key, rs)
		})
	}
}

// below tests roll-ups of level i against what is below them.
func (c *checker) below(i int, key rollKey, rs []roll) {
	l := &levels[i]
	if mayMiss(c.tx, key.channel, key.boot) {
		return
	}
	kept := keptIn(c.tx, key.boot)
	if i == 0 {
		at := dayOf{key.channel, key.boot, int64(key.period)}
		if _, raw := c.days[at]; !raw && at.day*int64(day) >= kept[0] {
			c.breach(7, l.bucket, key.String(), "counts readings that are not there")
		}
		return
	}
	want := rebuild(c.tx, i, key)
	if i == 1 {
		gone := func(r roll) bool { return r.slot*int64(l.width) < kept[1] }
		rs, want = slices.DeleteFunc(rs, gone), slices.DeleteFunc(want, gone)
	}
	c.compare(l, key, rs, want, "the level below")
}
