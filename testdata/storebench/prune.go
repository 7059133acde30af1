package main

import (
	"errors"
	"slices"
	"time"

	"ductward/internal/store"
)

// pause is how long a call took.
type pauses []time.Duration

func (p pauses) longest() time.Duration {
	if len(p) == 0 {
		return 0
	}
	return slices.Max(p)
}

// prune deletes all raw readings of the long record at once, while a sampler appends and commits without a rest, and
// times the longest pause of either.
func (b *bench) prune() error {
	if len(b.aged) == 0 {
		return errors.New("needs the section years")
	}
	o, err := openOurs(b.agedDir(len(b.aged)-1), store.Options{KeepRaw: day, KeepMinutes: day})
	if err != nil {
		return err
	}
	now := beginning.Add(time.Duration(b.years*365+30) * day)
	boot, err := o.boot(now)
	if err != nil {
		return err
	}
	type result struct {
		blocks int
		err    error
	}
	done := make(chan result, 1)
	start := time.Now()
	go func() {
		n, err := o.s.Prune(now)
		done <- result{n, err}
	}()
	var appends, commits pauses
	w := newWorkload(16, 1)
	var r result
	for at, over := time.Duration(0), false; !over; at += time.Second {
		begin := time.Now()
		if err := o.append(w.at(boot, at, 9*time.Hour)); err != nil {
			return err
		}
		appends = append(appends, time.Since(begin))
		if at%(30*time.Second) == 0 {
			begin = time.Now()
			if err := o.commit(); err != nil {
				return err
			}
			commits = append(commits, time.Since(begin))
		}
		select {
		case r = <-done:
			over = true
		case <-time.After(time.Millisecond):
		}
	}
	if r.err != nil {
		return r.err
	}
	b.beside("deleting all raw readings and minutes of the long record at once, beside a sampler",
		"%d blocks in %v; the longest append %.2f ms, the longest of %d commits %.1f ms", r.blocks,
		time.Since(start).Round(10*time.Millisecond), ms(appends.longest()), len(commits), ms(commits.longest()))
	return o.close()
}
