package store

import (
	"fmt"
	"slices"
	"time"
)

// dayOf is one day of monotonic time of one channel and boot.
type dayOf struct {
	channel, boot uint32
	day           int64
}

// pieces tests invariant 5, and 4 for the readings in pieces.
func (c *checker) pieces() {
	open := map[dayOf][]rec{}
	c.each(bucketOpen, func(k, v []byte) {
		key := fmt.Sprintf("piece %x", k)
		err := readPiece(k, v, func(id blockKey, rs []rec) error {
			c.known(bucketOpen, key, id.channel, id.boot)
			at := dayOf{id.channel, id.boot, rs[0].day()}
			open[at] = append(open[at], rs...)
			return nil
		})
		if err != nil || len(k) != 8 {
			c.breach(5, bucketOpen, key, "%v", err)
		}
	})
	for at, rs := range open {
		c.twice(bucketOpen, at, rs)
	}
}

// twice tests invariant 4 for the readings of one day, and sorts them.
func (c *checker) twice(bucket []byte, at dayOf, rs []rec) {
	slices.SortFunc(rs, func(a, b rec) int { return a.compare(&b) })
	for i := 1; i < len(rs); i++ {
		if rs[i].compare(&rs[i-1]) == 0 {
			c.breach(4, bucket, at.String(), "the reading at %v with sequence %d stands twice", time.Duration(rs[i].mono), rs[i].seq)
			return
		}
	}
}

func (d dayOf) String() string {
	return fmt.Sprintf("channel %d, boot %d, day %d", d.channel, d.boot, d.day)
}

// blocks tests invariants 3 and 4, and the first half of 7.
func (c *checker) blocks() {
	c.days = map[dayOf]bool{}
	var at dayOf
	var rs []rec
	whole, any := true, false
	finish := func() {
		if any {
			c.day(at, rs, whole)
		}
		rs, whole = rs[:0], true
	}
	c.each(bucketBlocks, func(k, v []byte) {
		key, ok := parseBlockKey(k)
		if !ok {
			c.breach(3, bucketBlocks, fmt.Sprintf("%x", k), "is no key of a block")
			return
		}
		if here := (dayOf{key.channel, key.boot, key.mono / int64(day)}); !any || here != at {
			finish()
			at, any = here, true
			c.known(bucketBlocks, key.String(), key.channel, key.boot)
		}
		got, err := readBlock(nil, k, v, key.boot)
		switch {
		case err != nil:
			c.breach(3, bucketBlocks, key.String(), "%v", err)
			whole = false
		case got[0].mono != key.mono:
			c.breach(3, bucketBlocks, key.String(), "begins at %d ns", got[0].mono)
			whole = false
		default:
			rs = append(rs, got...)
		}
	})
	finish()
}

// day tests all raw readings of one day against each other and against the minutes.
func (c *checker) day(at dayOf, rs []rec, whole bool) {
	c.days[at] = whole
	c.twice(bucketBlocks, at, rs)
	if kept := keptIn(c.tx, at.boot); !whole || at.day*int64(day) < kept[0] || at.day*int64(day) < kept[1] ||
		mayMiss(c.tx, at.channel, at.boot) {
		return
	}
	want := rollUp(rs, &levels[0])
	key := rollKey{at.channel, at.boot, uint32(at.day)}
	v := c.tx.Bucket(levels[0].bucket).Get(key.bytes())
	if v == nil {
		if len(want) > 0 {
			c.breach(7, levels[0].bucket, key.String(), "is not there, and there are raw readings of it")
		}
		return
	}
	if got, err := readRolls(key.bytes(), v, &levels[0]); err == nil { // rollUps names the others
		c.compare(&levels[0], key, got, want, "the raw readings")
	}
}
