package main

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/store"
)

// folder makes a folder within the work folder, or finds it.
func (b *bench) folder(name string) (string, error) {
	dir := filepath.Join(b.work, name)
	return dir, os.MkdirAll(dir, 0o755)
}

// record makes the record by day and night in both stores, from the same readings, and weighs it.
func (b *bench) record() error {
	dir, err := b.folder("nights")
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
	if err := o.s.Bulk(true); err != nil {
		return err
	}
	q, err := openSQL(dir, true, false, true)
	if err != nil {
		return err
	}
	w, h := newWorkload(16, 1), newEntropy(b.days*86400)
	for second := range b.days * 86400 {
		at := time.Duration(second) * time.Second
		rs := w.at(boot, at, at%day)
		h.add(rs, fanRuns(at%day))
		if err := o.append(rs); err != nil {
			return err
		}
		if err := q.append(rs); err != nil {
			return err
		}
		if second%30 == 0 {
			if err := o.commit(); err != nil {
				return err
			}
		}
		if second%300 == 0 {
			if err := q.commit(); err != nil {
				return err
			}
		}
	}
	for _, e := range []engine{o, q} {
		if err := e.commit(); err != nil {
			return err
		}
		if err := e.close(); err != nil {
			return err
		}
	}
	return b.weigh(dir, float64(w.seq), h)
}

func (b *bench) weigh(dir string, readings float64, h *entropy) error {
	mine, err := size(oursFile(dir))
	if err != nil {
		return err
	}
	rows, err := size(sqlFile(dir))
	if err != nil {
		return err
	}
	mineEach, rowsEach := float64(mine)/readings, float64(rows)/readings
	b.bar(fmt.Sprintf("bytes a reading on disk, all in, %d days and nights", b.days), "≤ 0.25", mineEach <= 0.25, "%.3f", mineEach)
	b.bar("the same against the SQL engine", "≤ 1/80", rowsEach/mineEach >= 80, "1/%.0f of %.1f", rowsEach/mineEach, rowsEach)
	bits, err := pressureBits(oursFile(dir))
	if err != nil {
		return err
	}
	best := h.best()
	b.bar("pressure blocks with their times and heads, against the entropy of the best simple predictor", "≤ 1.05",
		bits <= 1.05*best.all, "%.3f: %.2f of %.2f bits a reading", bits/best.all, bits, best.all)
	b.beside("that entropy while the fan runs and while it stands", "%.2f and %.2f bits a reading", best.running, best.standing)
	mixed := h.mixed()
	b.beside("against the entropy with a predictor for each pressure and state of the fan", "%.3f: %.2f and %.2f bits", bits/mixed.all,
		mixed.running, mixed.standing)
	return b.running()
}

// pressureBits weighs the blocks of pressures, keys and all, in bits a reading.
func pressureBits(path string) (float64, error) {
	db, err := bolt.Open(path, 0o444, &bolt.Options{ReadOnly: true, Timeout: time.Second})
	if err != nil {
		return 0, err
	}
	defer func() { _ = db.Close() }() // nothing was written
	var bytes, readings uint64
	err = db.View(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte("blocks")).ForEach(func(k, v []byte) error {
			// Channels are numbered from 1 in the order of their first reading, and the pressures come first.
			if k[0] == 0 && k[1] == 0 && k[2] == 0 && k[3] <= pressures {
				bytes += uint64(len(k) + len(v))
				readings += countOf(v)
			}
			return nil
		})
	})
	return float64(bytes) * 8 / float64(readings), err
}

// countOf reads how many readings a block holds: a varint after its version and columns.
func countOf(block []byte) (n uint64) {
	for i, b := range block[2:] {
		n |= uint64(b&0x7f) << (7 * i)
		if b < 0x80 {
			break
		}
	}
	return n
}

// running weighs a record of pressures alone, kept only while the fan runs.
func (b *bench) running() error {
	dir, err := b.folder("running")
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
	if err := o.s.Bulk(true); err != nil {
		return err
	}
	w, readings := newWorkload(16, 1), 0
	for d := range 60 {
		for second := range 6 * 3600 {
			clock := 8*time.Hour + time.Duration(second)*time.Second
			if err := o.append(w.at(boot, time.Duration(d)*day+clock, clock)[:pressures]); err != nil {
				return err
			}
			readings += pressures
		}
	}
	if err := o.close(); err != nil {
		return err
	}
	bytes, err := size(oursFile(dir))
	b.beside("pressure readings while the fan runs alone, all in", "%.2f bytes a reading", float64(bytes)/float64(readings))
	return err
}
