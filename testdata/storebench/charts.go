package main

import (
	"fmt"
	"slices"
	"time"

	"ductward/internal/store"
)

const chartBuckets = 1000

// opener opens an engine whose record is there.
type opener struct {
	open func() (engine, error)
	file string
}

// cold draws a chart from a file that is not in the page cache, some times, and returns the median time.
func cold(o opener, channel string, from, to time.Time) (median time.Duration, filled int, err error) {
	var times []time.Duration
	for range 5 {
		if err := evict(o.file); err != nil {
			return 0, 0, err
		}
		e, err := o.open()
		if err != nil {
			return 0, 0, err
		}
		start := time.Now()
		filled, err = e.chart(channel, from, to, chartBuckets)
		times = append(times, time.Since(start))
		if err != nil {
			return 0, 0, err
		}
		if err := e.close(); err != nil {
			return 0, 0, err
		}
	}
	slices.Sort(times)
	return times[len(times)/2], filled, nil
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1e3 }

func oursIn(dir string) opener {
	return opener{func() (engine, error) { return openOurs(dir, store.Options{}) }, oursFile(dir)}
}

func sqlIn(dir string, rolls bool, names []string) opener {
	return opener{func() (engine, error) {
		e, err := openSQL(dir, !rolls, rolls, false)
		if err == nil {
			for _, n := range names {
				e.id(n)
			}
		}
		return e, err
	}, sqlFile(dir)}
}

// charts draws from the record by day and night, in both stores.
func (b *bench) charts() error {
	dir, err := b.folder("nights")
	if err != nil {
		return err
	}
	names := newWorkload(16, 1).names
	end := beginning.Add(time.Duration(b.days) * day)
	for _, c := range []struct {
		days  int
		ratio float64
	}{{1, 10}, {30, 100}} {
		from := end.Add(-time.Duration(c.days) * day)
		mine, filled, err := cold(oursIn(dir), names[1], from, end)
		if err != nil {
			return err
		}
		rows, sqlFilled, err := cold(sqlIn(dir, false, names), names[1], from, end)
		if err != nil {
			return err
		}
		if filled != chartBuckets || sqlFilled != chartBuckets {
			return fmt.Errorf("chart of %d days: %d and %d of %d buckets hold something", c.days, filled, sqlFilled, chartBuckets)
		}
		ratio := float64(rows) / float64(mine)
		b.bar(fmt.Sprintf("chart from cold, %d buckets, %d days", chartBuckets, c.days), fmt.Sprintf("≤ 1/%.0f of raw rows", c.ratio),
			ratio >= c.ratio, "%.1f ms: 1/%.0f of %.0f ms", ms(mine), ratio, ms(rows))
	}
	return b.latest(dir)
}

// latest times the newest value of every channel.
func (b *bench) latest(dir string) error {
	o, err := openOurs(dir, store.Options{})
	if err != nil {
		return err
	}
	const rounds = 20_000
	n := 0
	start := time.Now()
	for range rounds {
		n += len(o.s.Latest())
	}
	each := time.Since(start).Seconds() * 1e9 / float64(n)
	b.bar("latest value of every channel", "< 1 µs a channel", each < 1000, "%.0f ns a channel", each)
	return o.close()
}
