// Command boardbench is the daemon on a simulated board that measures itself, in a program of its own: what a test's
// program holds besides would be in the figures. The benchmarks BenchmarkBoard of package daemon build and run it:
//
//	boardbench past|live SENSORS INTERVAL WINDOW FOLDER
//
// "past" lives through twelve days in the folder's store, so that there is a baseline; "live" goes on from there in real
// time and writes what it took as JSON.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"

	"ductward/daemon"
	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/shop"
	"ductward/internal/store"
)

// cost is what the daemon and the plant that is simulated for it take.
type cost struct {
	CPU                 float64 // share of a core
	Resident, Anonymous float64 // MB
	Jitter99, JitterMax float64 // ms by which the time between two samples of a sensor differs from the interval
	Samples             int
}

// settle is how long after its start the daemon is looked at: the start is over, and the first batch is on the card.
const settle = 30 * time.Second

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "boardbench:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 5 {
		return errors.New("write: boardbench past|live SENSORS INTERVAL WINDOW FOLDER")
	}
	sensors, e1 := strconv.Atoi(args[1])
	every, e2 := time.ParseDuration(args[2])
	window, e3 := time.ParseDuration(args[3])
	if err := errors.Join(e1, e2, e3); err != nil {
		return err
	}
	s, err := shopOf(sensors, every)
	if err != nil {
		return err
	}
	if args[0] == "past" {
		return past(s, args[4])
	}
	c, err := live(s, every, window, args[4])
	if err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(c)
}

// past lives through twelve days.
func past(s *shop.Shop, dir string) error {
	end := time.Now().Truncate(time.Second)
	begin := end.AddDate(0, 0, -12)
	plants, err := rig.NewDemo(s, begin, end, 1)
	if err != nil {
		return err
	}
	clk := clock.NewVirtual(begin)
	plants.Use(clk)
	w := &rig.Past{Plants: plants, Clock: clk}
	d, err := daemon.New(daemon.Config{Shop: s, DataDir: dir, Buses: plants, Clock: clk, World: w, Log: quiet()})
	if err != nil {
		return err
	}
	if err := errors.Join(d.History(context.Background(), end, nil), d.Close(), w.Err); err != nil {
		return err
	}
	return hasBaseline(dir, s.Collectors[0].Name)
}

func hasBaseline(dir, collector string) error {
	st, err := store.Open(dir, store.Options{})
	if err != nil {
		return err
	}
	kept, err := st.Baselines(collector)
	if err == nil && len(kept) == 0 {
		err = errors.New("twelve days have made no baseline")
	}
	return errors.Join(err, st.Close())
}

// live runs the daemon for a while and measures.
func live(s *shop.Shop, every, window time.Duration, dir string) (c cost, err error) {
	clk := clock.NewVirtual(time.Now())
	clk.Go()
	still, err := rig.NewStill(s, clk, 1)
	if err != nil {
		return c, err
	}
	b := &board{Still: still}
	known := make(chan struct{})
	d, err := daemon.New(daemon.Config{Shop: s, DataDir: dir, Buses: b, Clock: clk, Log: quiet(), Listen: "127.0.0.1:0", Known: func() { close(known) }})
	if err != nil {
		return c, err
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	select {
	case <-known:
	case err = <-ended:
		stop()
		return c, err
	}
	time.Sleep(settle)
	b.forget()
	before, t := cpuTime(), time.Now()
	time.Sleep(window)
	c.CPU = (cpuTime() - before).Seconds() / time.Since(t).Seconds()
	c.Jitter99, c.JitterMax, c.Samples = b.jitter(every)
	c.Resident, c.Anonymous = statusMB("VmRSS"), statusMB("RssAnon")
	stop()
	return c, <-ended
}

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// cpuTime is what this process has taken of all cores.
func cpuTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// statusMB reads a line of /proc/self/status, which are in kB.
func statusMB(key string) float64 {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return math.NaN()
	}
	for _, line := range strings.Split(string(data), "\n") {
		if rest, ok := strings.CutPrefix(line, key+":"); ok {
			kb, _ := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(rest), " kB"), 64)
			return kb / 1000
		}
	}
	return math.NaN()
}
