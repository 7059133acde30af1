package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
)

// part is one long-running part of the daemon. Its run returns nil once its context is done and what it held has been
// handed on.
type part struct {
	name string
	run  func(context.Context) error
}

// runParts starts the parts in order and waits until the context is done or one of them ends. It then stops them in the
// reverse order, each one only after the one before it has ended, so that what a part sends while it stops still finds
// somebody to take it. It returns all their errors; a part that ends before it is told to is an error.
func runParts(ctx context.Context, parts []part, log *slog.Logger) error {
	type running struct {
		part
		stop context.CancelFunc
		done chan error
	}
	ended := make(chan string, len(parts))
	all := make([]running, 0, len(parts))
	for _, p := range parts {
		own, stop := context.WithCancel(context.WithoutCancel(ctx))
		r := running{part: p, stop: stop, done: make(chan error, 1)}
		go func() {
			err := p.run(own)
			if err == nil && own.Err() == nil {
				err = errors.New("ended by itself")
			}
			r.done <- err
			ended <- p.name
		}()
		all = append(all, r)
	}
	select {
	case <-ctx.Done():
		log.Info("stopping")
	case name := <-ended:
		log.Error("a part has failed; stopping", "part", name)
	}
	var errs []error
	for i := len(all) - 1; i >= 0; i-- {
		r := all[i]
		r.stop()
		if err := <-r.done; err != nil && !errors.Is(err, context.Canceled) {
			errs = append(errs, fmt.Errorf("%s: %w", r.name, err))
		}
		log.Debug("stopped", "part", r.name)
	}
	return errors.Join(errs...)
}
