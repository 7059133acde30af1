package main

import (
	"syscall"
	"time"

	"ductward/internal/reading"
	"ductward/internal/store"
)

// feeding is what the taking of readings cost.
type feeding struct {
	wall, cpu time.Duration
	readings  int
}

// feed gives readings of a running fan to e and commits each 30 s of theirs; the making of the readings is not counted.
func feed(e engine, boot uint32, channels, hz int, length time.Duration) (f feeding, err error) {
	w := newWorkload(channels, hz)
	const interval = 30 * time.Second
	step := time.Second / time.Duration(hz)
	for at := time.Duration(0); at < length; at += interval {
		var ticks [][]reading.Reading
		for t := at; t < at+interval; t += step {
			ticks = append(ticks, append([]reading.Reading(nil), w.at(boot, t, 9*time.Hour)...))
		}
		start, cpu := time.Now(), processorTime()
		for _, rs := range ticks {
			if err := e.append(rs); err != nil {
				return f, err
			}
		}
		if err := e.commit(); err != nil {
			return f, err
		}
		f.wall += time.Since(start)
		f.cpu += processorTime() - cpu
	}
	f.readings = int(w.seq)
	return f, nil
}

// processorTime is what this process has used of all processors, the kernel's work for it among it.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0 // cannot fail with these arguments
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func (f feeding) rate() float64 { return float64(f.readings) / f.wall.Seconds() }

func (b *bench) ingest() error {
	dir, err := b.folder("ingest")
	if err != nil {
		return err
	}
	o, err := openOurs(dir, store.Options{})
	if err != nil {
		return err
	}
	boot, err := o.boot(beginning)
	if err != nil {
		return err
	}
	mine, err := feed(o, boot, 16, 1, 6*time.Hour)
	if err != nil {
		return err
	}
	q, err := openSQL(dir, true, false, false)
	if err != nil {
		return err
	}
	rows, err := feed(q, 1, 16, 1, 6*time.Hour)
	if err != nil {
		return err
	}
	ratio := mine.rate() / rows.rate()
	b.bar("durable ingest against the SQL engine, a commit each 30 s of readings", "≥ 5", ratio >= 5, "%.1f: %.0f of %.0f thousand readings a second",
		ratio, mine.rate()/1e3, rows.rate()/1e3)
	if boot, err = o.boot(beginning.Add(day)); err != nil {
		return err
	}
	const length = 30 * time.Minute
	many, err := feed(o, boot, 64, 10, length)
	if err != nil {
		return err
	}
	share := many.cpu.Seconds() / length.Seconds()
	b.bar("64 channels at 10 Hz", "< 3 % of a core", share < 0.03, "%.2f %%: %.0f ns a reading", share*100,
		float64(many.cpu.Nanoseconds())/float64(many.readings))
	q.zero = q.zero.Add(day)
	manyRows, err := feed(q, 1, 64, 10, 4*time.Minute)
	if err != nil {
		return err
	}
	b.beside("durable ingest of that against the SQL engine", "%.1f: %.0f of %.0f thousand readings a second", many.rate()/manyRows.rate(),
		many.rate()/1e3, manyRows.rate()/1e3)
	if err := q.close(); err != nil {
		return err
	}
	return o.close()
}
