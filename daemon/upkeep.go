package daemon

import (
	"context"
	"log/slog"
	"time"

	"ductward/internal/clock"
)

// The times of upkeep.
const (
	firstUpkeep = 10 * time.Minute // after the start, when everything else has settled
	upkeepEvery = 24 * time.Hour
)

// upkeep lets go of raw readings that are older than they are to be kept.
type upkeep struct {
	store keeper
	clk   clock.Clock
	log   *slog.Logger
}

// run looks once a day until the context is done. A failure is told, and tried again the next day.
func (u *upkeep) run(ctx context.Context) error {
	pruning := &trouble{what: "letting go of old readings", log: u.log}
	for wait := firstUpkeep; u.clk.Wait(ctx, wait) == nil; wait = upkeepEvery {
		if !u.clk.Trusted() {
			continue // nobody knows how old anything is
		}
		blocks, err := u.store.Prune(u.clk.Now())
		if pruning.see(u.clk.Mono(), err) == nil && blocks > 0 {
			u.log.Info("old readings let go", "blocks", blocks)
		}
	}
	return nil
}
