package main

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"ductward/internal/store"
)

// workHours is how long the board is on each day of the long record, from 7 o'clock: a boot a day.
const (
	workHours = 8 * time.Hour
	opens     = 7 * time.Hour
)

// twoYears plays years of working days, each a boot of its own, in one run. At the beginning, at each year's end and in
// the middle every commit is synced and what reaches the device is counted; the other days are written in bulk. The SQL
// engine takes the same readings into roll-up tables of its own.
func (b *bench) twoYears() (err error) {
	d, err := newDevice(b.work, 2048)
	if err != nil {
		return err
	}
	defer func() {
		if closeErr := d.close(); err == nil {
			err = closeErr
		}
	}()
	rolls, err := b.folder("years")
	if err != nil {
		return err
	}
	q, err := openSQL(rolls, false, true, true)
	if err != nil {
		return err
	}
	o, err := openOurs(d.mount, store.Options{})
	if err != nil {
		return err
	}
	y := &yearsRun{b: b, d: d, o: o, q: q, w: newWorkload(16, 1)}
	start := time.Now()
	for n := range b.years * 365 {
		if err := y.workday(n); err != nil {
			return err
		}
	}
	spent := time.Since(start)
	if err := q.close(); err != nil {
		return err
	}
	if err := y.o.close(); err != nil {
		return err
	}
	bytes, err := size(oursFile(d.mount))
	if err != nil {
		return err
	}
	if err := copyIfThere(oursFile(d.mount), oursFile(rolls)); err != nil {
		return err
	}
	b.beside(fmt.Sprintf("%d years of working days, %d million readings in %d boots", b.years, y.w.seq/1e6, b.years*365),
		"%.0f MB: %.3f bytes a reading; made in %v", float64(bytes)/1e6, float64(bytes)/float64(y.w.seq), spent.Round(time.Second))
	b.beside("written a working day, the first and the last", "%.1f and %.1f MB", y.first/1e6, y.last/1e6)
	return b.yearChart(rolls)
}

type yearsRun struct {
	b           *bench
	d           *device
	o           *ours
	q           *sqlEngine
	w           *workload
	first, last float64 // bytes of a measured day
}

// workday plays day n. The record so far is copied for the opening tests at a tenth of it, half and the end.
func (y *yearsRun) workday(n int) error {
	zero := beginning.Add(time.Duration(n)*day + opens)
	boot, err := y.o.boot(zero)
	if err != nil {
		return err
	}
	length := y.b.years * 365
	measured := n == 0 || n == length-1
	if err := y.o.s.Bulk(!measured); err != nil {
		return err
	}
	before, err := y.d.written()
	if err != nil {
		return err
	}
	y.q.zero = zero
	next := time.Duration(0)
	for at := time.Duration(0); at < workHours; at += time.Second {
		rs := y.w.at(boot, at, opens+at)
		if err := y.o.append(rs); err != nil {
			return err
		}
		if n >= length-365 {
			if err := y.q.append(rs); err != nil {
				return err
			}
		}
		if at >= next {
			if err := y.o.commit(); err != nil {
				return err
			}
			next = at + commitEvery(opens+at)
		}
	}
	if err := y.q.commit(); err != nil {
		return err
	}
	if measured {
		after, err := y.d.written()
		if err != nil {
			return err
		}
		y.first, y.last = y.last, float64(after-before)
		if n == 0 {
			y.first = y.last
		}
	}
	for _, part := range []int{length / 10, length / 2, length - 1} {
		if n == part {
			return y.keep(n)
		}
	}
	return nil
}

// keep copies the record as it stands, closed.
func (y *yearsRun) keep(n int) error {
	if err := y.o.close(); err != nil {
		return err
	}
	y.b.aged = append(y.b.aged, n+1)
	dir := y.b.agedDir(len(y.b.aged) - 1)
	err := os.Mkdir(dir, 0o755)
	if err != nil {
		return err
	}
	if err := copyIfThere(oursFile(y.d.mount), oursFile(dir)); err != nil {
		return err
	}
	y.o, err = openOurs(y.d.mount, store.Options{})
	return err
}

func (b *bench) yearChart(dir string) error {
	names := newWorkload(16, 1).names
	end := beginning.Add(time.Duration(b.years*365) * day)
	from := end.Add(-365 * day)
	mine, filled, err := cold(oursIn(dir), names[1], from, end)
	if err != nil {
		return err
	}
	rows, sqlFilled, err := cold(sqlIn(dir, true, names), names[1], from, end)
	if err != nil {
		return err
	}
	if filled != sqlFilled || filled < 365 {
		return fmt.Errorf("chart of a year: %d and %d buckets hold something", filled, sqlFilled)
	}
	b.bar(fmt.Sprintf("chart from cold, %d buckets, 365 days", chartBuckets), "≤ 10 ms", ms(mine) <= 10, "%.1f ms", ms(mine))
	b.bar("the same against the SQL engine with roll-up tables", "≤ 1", mine <= rows, "%.2f of %.1f ms", float64(mine)/float64(rows), ms(rows))
	return nil
}

// crash opens records of several ages whose writer was killed in the middle of its day.
func (b *bench) crash() error {
	var times []time.Duration
	for i, age := range b.aged {
		dir := b.agedDir(i)
		if err := killedWriter(dir); err != nil {
			return err
		}
		if err := evict(oursFile(dir)); err != nil {
			return err
		}
		start := time.Now()
		o, err := openOurs(dir, store.Options{})
		spent := time.Since(start)
		if err != nil {
			return err
		}
		if err := o.close(); err != nil {
			return err
		}
		times = append(times, spent)
		b.bar(fmt.Sprintf("open from cold after a crash, %d days of record", age), "≤ 50 ms", ms(spent) <= 50, "%.1f ms", ms(spent))
	}
	if len(times) > 1 {
		growth := times[len(times)-1] - times[0]
		b.bar("growth of that from the youngest record to the oldest", "≤ 10 ms: flat", ms(growth) <= 10, "%.1f ms", ms(growth))
	}
	return nil
}

// agedDir is where the copy of the long record at its i-th age lies.
func (b *bench) agedDir(i int) string {
	return filepath.Join(b.work, fmt.Sprintf("aged-%d", b.aged[i]))
}
