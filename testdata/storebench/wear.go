package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"ductward/internal/store"
)

// wear plays a day at a block device of its own, with the commits of the daemon.
func (b *bench) wear() (err error) {
	d, err := newDevice(b.work, 1024)
	if err != nil {
		return err
	}
	defer func() {
		if closeErr := d.close(); err == nil {
			err = closeErr
		}
	}()
	dir, err := b.folder("device")
	if err != nil {
		return err
	}
	mine, commits, err := b.wearOurs(d, dir)
	if err != nil {
		return err
	}
	rows, sqlCommits, err := wearSQL(d, dir, false)
	if err != nil {
		return err
	}
	rolled, _, err := wearSQL(d, dir, true)
	if err != nil {
		return err
	}
	each, sqlEach := mine/float64(commits), rows/float64(sqlCommits)
	const where = " at a block device of its own"
	b.bar("written a commit"+where, "≤ 24 KiB", each <= 24<<10, "%.1f KiB (%d commits)", each/1024, commits)
	b.bar("written a day"+where, "≤ 25 MB", mine <= 25e6, "%.1f MB", mine/1e6)
	b.bar("the same against the SQL engine", "≤ 1/10", sqlEach/each >= 10, "1/%.0f of %.0f KiB a commit, %.0f MB a day; 1/%.0f with roll-up tables",
		sqlEach/each, sqlEach/1024, rows/1e6, rolled/mine)
	return b.wearNaive(d, dir, mine/86400/16)
}

// wearOurs returns the bytes and the commits of the day that follows the record, if there is one; it is harder to write
// to a large file than to a fresh one.
func (b *bench) wearOurs(d *device, dir string) (bytes float64, commits int, err error) {
	if err := copyIfThere(oursFile(filepath.Join(b.work, "nights")), oursFile(dir)); err != nil {
		return 0, 0, err
	}
	o, err := openOurs(dir, store.Options{})
	if err != nil {
		return 0, 0, err
	}
	boot, err := o.boot(beginning.Add(time.Duration(b.days) * day))
	if err != nil {
		return 0, 0, err
	}
	w := newWorkload(16, 1)
	if _, err := w.stretch(o, boot, 0, 0, time.Hour, true); err != nil {
		return 0, 0, err
	}
	before, err := d.written()
	if err != nil {
		return 0, 0, err
	}
	if commits, err = w.stretch(o, boot, time.Hour, 0, day, true); err != nil {
		return 0, 0, err
	}
	after, err := d.written()
	if err != nil {
		return 0, 0, err
	}
	return float64(after - before), commits, o.close()
}

func wearSQL(d *device, dir string, rolls bool) (bytes float64, commits int, err error) {
	q, err := openSQL(dir, true, rolls, false)
	if err != nil {
		return 0, 0, err
	}
	w := newWorkload(16, 1)
	before, err := d.written()
	if err != nil {
		return 0, 0, err
	}
	if commits, err = w.stretch(q, 1, 0, 0, day, true); err != nil {
		return 0, 0, err
	}
	after, err := d.written()
	if err != nil {
		return 0, 0, err
	}
	if err := q.close(); err != nil {
		return 0, 0, err
	}
	return float64(after - before), commits, os.Remove(sqlFile(dir))
}

func (b *bench) wearNaive(d *device, dir string, oursEach float64) error {
	e, err := openNaive(dir)
	if err != nil {
		return err
	}
	before, err := d.written()
	if err != nil {
		return err
	}
	const seconds = 60
	start := time.Now()
	w := newWorkload(16, 1)
	if _, err := w.stretch(e, 1, 0, 0, seconds*time.Second, false); err != nil {
		return err
	}
	spent := time.Since(start)
	after, err := d.written()
	if err != nil {
		return err
	}
	each := float64(after-before) / float64(w.seq)
	b.beside("bbolt with a transaction a reading, a minute of it", "%.0f bytes written a reading, %.0f times as much; %.2f ms a reading",
		each, each/oursEach, spent.Seconds()*1e3/float64(w.seq))
	return e.close()
}

func copyIfThere(from, to string) error {
	in, err := os.Open(from)
	if os.IsNotExist(err) {
		return nil
	}
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }() // nothing was written
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	if _, err := io.Copy(out, in); err != nil {
		return fmt.Errorf("copy %s: %w", from, err)
	}
	if err := out.Sync(); err != nil {
		return err
	}
	return out.Close()
}
