package daemon

import (
	"context"
	"log/slog"
	"time"

	"ductward/internal/clock"
	"ductward/internal/store"
)

// The times of upkeep.
const (
	lookEvery   = time.Minute
	firstUpkeep = 10 * time.Minute // after the start, when everything else has settled
	upkeepEvery = 24 * time.Hour
)

// fullShare is how much of what a machine can map may be used before a person is told. At a few tens of kilobytes a day
// there are years left.
const fullShare = 0.8

// upkeep looks after the file of the store: it lets go of raw readings that are older than they are to be kept, has the
// file written anew where much of it lies free, sets it aside where a page of it cannot be used, and tells when it nears
// what this machine can use.
type upkeep struct {
	store keeper
	clk   clock.Clock
	log   *slog.Logger
	tell  func(store.Notice)

	pruning, compacting, repairing trouble
}

func newUpkeep(k keeper, clk clock.Clock, log *slog.Logger, tell func(store.Notice)) *upkeep {
	return &upkeep{store: k, clk: clk, log: log, tell: tell,
		pruning:    trouble{what: "letting go of old readings", log: log},
		compacting: trouble{what: "writing the store anew", log: log},
		repairing:  trouble{what: "setting the damaged store aside", log: log},
	}
}

// run looks every minute for damage and once a day for the rest, until the context is done. A failure is told, and tried
// again with the next look.
func (u *upkeep) run(ctx context.Context) error {
	next := u.clk.Mono() + firstUpkeep
	for u.clk.Wait(ctx, lookEvery) == nil {
		u.repair()
		if u.clk.Mono() >= next {
			next += upkeepEvery
			u.prune()
			u.room(ctx)
		}
	}
	return nil
}

func (u *upkeep) repair() {
	damage := u.store.Damage()
	if damage == nil {
		return
	}
	told, err := u.store.Repair(damage)
	_ = u.repairing.see(u.clk.Mono(), err) // logged there
	if told.Text != "" {
		u.log.Warn("store", "notice", told.Text)
		u.tell(told)
	}
}

func (u *upkeep) prune() {
	if !u.clk.Trusted() {
		return // nobody knows how old anything is
	}
	blocks, err := u.store.Prune(u.clk.Now())
	if u.pruning.see(u.clk.Mono(), err) == nil && blocks > 0 {
		u.log.Info("old readings let go", "blocks", blocks)
	}
}

// room makes the file smaller where that is worth it.
func (u *upkeep) room(ctx context.Context) {
	space, err := u.store.Space()
	if err == nil && space.WorthCompacting() {
		was := space.Size
		if err = u.store.Compact(ctx); err == nil {
			space, err = u.store.Space()
			u.log.Info("the store was written anew", "bytes", space.Size, "before", was)
		}
	}
	if ctx.Err() != nil || u.compacting.see(u.clk.Mono(), err) != nil || space.Limit == 0 {
		return
	}
	if used := space.Size - space.Free; float64(used) >= fullShare*float64(space.Limit) {
		u.log.Warn("the store nears what a board of 32 bits can use: keep raw readings for a shorter time (--keep-raw), or move the data folder to a machine of 64 bits",
			"bytes", used, "limit", space.Limit)
	}
}
