package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"ductward/daemon"
	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/shop"
	"ductward/internal/store"
)

// demoFlags is what the command line asks of a demo.
type demoFlags struct {
	data, listen string
	history      string
	seed         uint64
	printShop    bool
	verbose      bool
}

func newDemo() *cobra.Command {
	var f demoFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Watch an invented shop, with six months behind it",
		Long: `Runs the whole watch on an invented workshop that makes sash windows and stairs. A
simulated plant answers on simulated I²C and GPIO, so that the drivers, the store, the
estimate, the alarms and the dashboard are those that run in a real shop.

First half a year of history is made by the same code, as fast as the machine can; then
the dashboard's address is printed and the watch goes on live. Ctrl-C stops it.`,
		Example: `  ductward demo
  ductward demo --history "8 weeks" --listen 127.0.0.1:8137
  ductward demo --print-shop > shop.yaml`,
		Args: cobra.NoArgs,
	}
	fl := cmd.Flags()
	fl.StringVar(&f.data, "data", "", "fresh folder for the store, which is kept (default: a temporary one, removed at the end)")
	fl.StringVar(&f.listen, "listen", "127.0.0.1:0", "address of the dashboard, HOST:PORT; port 0 takes a free one")
	fl.StringVar(&f.history, "history", "26 weeks", "how much history to make, from 1 day to 104 weeks")
	fl.Uint64Var(&f.seed, "seed", demoSeed, "what the invented plant and its days are drawn from")
	fl.BoolVar(&f.printShop, "print-shop", false, "write the shop file of the demo and end")
	fl.BoolVar(&f.verbose, "verbose", false, "log more")
	cmd.RunE = work(func(cmd *cobra.Command, _ []string) error {
		if f.printShop {
			_, err := cmd.OutOrStdout().Write(rig.DemoShop())
			return err
		}
		return demo(cmd, f)
	})
	return cmd
}

// demoSeed is the plant that is shown unless another is asked for. Any seed will do.
const demoSeed = 1

// demo makes the history and then runs live until the context is done.
func demo(cmd *cobra.Command, f demoFlags) (err error) {
	past, err := parseTime("--history", f.history, 24*time.Hour, 104*7*24*time.Hour)
	if err != nil {
		return err
	}
	dir, done, err := demoFolder(f.data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	s, problems := shop.Parse("the demo's shop file", rig.DemoShop())
	if err := shop.Errors(problems); err != nil {
		return err
	}
	s.Outbound = shop.Outbound{} // the rig stands in for the broker, and an invented shop tells nobody
	return show(cmd, f, s, dir, past)
}

// show watches the shop through its past and goes on.
func show(cmd *cobra.Command, f demoFlags, s *shop.Shop, dir string, past time.Duration) (err error) {
	end := time.Now().Truncate(time.Second).In(s.Site.Location)
	start := end.Add(-past)
	plants, err := rig.NewDemo(s, start, end, f.seed)
	if err != nil {
		return err
	}
	clk := clock.NewVirtual(start)
	plants.Use(clk)
	w := &rig.Past{Plants: plants, Clock: clk}
	var at string
	out := cmd.OutOrStdout()
	d, err := daemon.New(daemon.Config{Shop: s, DataDir: dir, Buses: plants, Version: buildVersion(), Listen: f.listen,
		Clock: clk, World: w, Logbook: plants.Journal(end),
		Listening: func(address string) { at = address },
		Known:     func() { fmt.Fprintf(out, lookAt, at, at, at, at) },
		Log:       logger(cmd.ErrOrStderr(), slog.LevelWarn, f.verbose)}) // the dashboard tells the rest
	if err != nil {
		return err
	}
	defer closeInto(&err, d, "demo")
	if err = makeHistory(cmd, d, start, end); err == nil {
		err = w.Err
	}
	if err != nil {
		return stopped(err)
	}
	fmt.Fprintf(out, "%s: %s of invented history made in %.0f s, in %s\n", s.Name, f.history, time.Since(end).Seconds(), dir)
	// The watch goes on as it is, on the same clock, which goes by itself from now on.
	clk.Go()
	plants.Use(clk)
	err = stopped(d.Run(cmd.Context()))
	return errors.Join(err, w.Err)
}

// makeHistory lives through the past, and then through the time that it took to do so: the clock must show today's time
// when it is let go.
func makeHistory(cmd *cobra.Command, d *daemon.Daemon, start, end time.Time) error {
	bar := newProgress(cmd.ErrOrStderr(), "making history", int64(end.Sub(start)))
	defer bar.finish()
	if err := d.History(cmd.Context(), end, func(done, _ time.Duration) { bar.set(int64(done)) }); err != nil {
		return err
	}
	return d.History(cmd.Context(), time.Now(), nil)
}

// lookAt says where the dashboard is and what there is to see.
const lookAt = `
The dashboard: http://%s/
  http://%s/filter   when the filter must be cleaned, and why then
  http://%s/leaks    a seam of the trunk that has been opening for weeks
  http://%s/history  every reading of the invented months
Every number is simulated. Ctrl-C stops.
`

// stopped makes a stop that was asked for no error.
func stopped(err error) error {
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// demoFolder returns a fresh folder for the store and what to do with it at the end.
func demoFolder(asked string) (dir string, done func() error, err error) {
	if asked == "" {
		dir, err = os.MkdirTemp("", "ductward-demo-")
		return dir, func() error { return os.RemoveAll(dir) }, err
	}
	if _, err := os.Stat(filepath.Join(asked, store.FileName)); err == nil {
		return "", nil, usage("--data %q holds a store already: name a fresh folder", asked)
	}
	return asked, func() error { return nil }, nil
}
