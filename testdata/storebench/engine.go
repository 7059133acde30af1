package main

import (
	"path/filepath"
	"time"

	"ductward/internal/reading"
	"ductward/internal/store"
)

// engine is one way to keep readings.
type engine interface {
	append(rs []reading.Reading) error
	commit() error
	// chart cuts a span into n buckets of least, mean and greatest, and returns how many hold anything.
	chart(channel string, from, to time.Time, n int) (filled int, err error)
	close() error
}

// ours is the store itself.
type ours struct{ s *store.Store }

func openOurs(dir string, opt store.Options) (*ours, error) {
	s, err := store.Open(dir, opt)
	if err != nil {
		return nil, err
	}
	return &ours{s}, nil
}

// boot begins a boot whose monotonic zero is at the given civil time.
func (o *ours) boot(zero time.Time) (uint32, error) {
	id, err := o.s.NewBoot()
	if err != nil {
		return 0, err
	}
	return id, o.s.PlaceBoot(id, zero)
}

func (o *ours) append(rs []reading.Reading) error { return o.s.Append(rs) }
func (o *ours) commit() error                     { return o.s.Commit() }
func (o *ours) close() error                      { return o.s.Close() }

func (o *ours) chart(channel string, from, to time.Time, n int) (filled int, err error) {
	buckets, err := o.s.Chart(channel, from, to, n)
	for i := range buckets {
		if buckets[i].N > 0 {
			filled++
		}
	}
	return filled, err
}

func oursFile(dir string) string { return filepath.Join(dir, store.FileName) }
