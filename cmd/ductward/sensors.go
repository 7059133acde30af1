package main

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"time"

	"github.com/spf13/cobra"

	"ductward/hardware/live"
	"ductward/internal/shop"
)

// sensorsFlags is what the command line asks of the sensors.
type sensorsFlags struct {
	wiresFlags
	once, json, scan bool
	blow             string
	fan              string
	seconds          string
}

func newSensors() *cobra.Command {
	var f sensorsFlags
	cmd := &cobra.Command{
		Use:   "sensors SITE",
		Short: "Show what every sensor and switch says now, and go through one with you",
		Long: `Reads every source of a shop file and shows them in one table, over and over on a
terminal: the value in its unit, its noise from sample to sample, its zero, what the
source says itself (a chip's count, a pin's level, a payload), and whether that can
be right. Ctrl-C ends it. Exit code with --once: 0 when all are good, else 1.

The zero is what a pressure sensor reads while the fan stands: as the fan's switch
tells, or as you say with --fan off.

--blow NAME goes through one pressure sensor with you: tubes off, tubes on, fan on.
It tells whether the zero is sound, whether anything presses on the tubes while the
fan stands, and whether the sign is right.

--scan asks on every I²C bus for the parts that ductward knows, and writes the lines
of the shop file for them. It needs no SITE; with one it says which parts the file
names already, and the supply of a bus that the file puts behind a pin is switched on
first. It asks only at addresses that such parts have.

Two programs that read one bus disturb each other: stop "ductward run" first. While it
runs, its page Sensors shows the same.`,
		Example: `  ductward sensors shop.yaml
  ductward sensors shop.yaml --once --json
  ductward sensors shop.yaml --blow "filter drop"
  ductward sensors --scan
  ductward sensors shop.yaml --simulated`,
		Args: cobra.MaximumNArgs(1),
	}
	fl := cmd.Flags()
	fl.BoolVar(&f.once, "once", false, "look for a while, show the table once and end")
	fl.BoolVar(&f.json, "json", false, "write JSON: one object with --once, else one a second, each on a line")
	fl.BoolVar(&f.scan, "scan", false, "find what answers on the buses, and write its lines for the shop file")
	fl.StringVar(&f.blow, "blow", "", "go through the pressure sensor of this name, step by step")
	fl.StringVar(&f.fan, "fan", "", `how every fan stands, "on" or "off", where no switch tells it`)
	fl.StringVar(&f.seconds, "for", "10 s", "how long --once looks, from 1 s to 10 min")
	f.wiresFlags.add(fl)
	cmd.MarkFlagsMutuallyExclusive("scan", "blow", "once")
	cmd.MarkFlagsMutuallyExclusive("scan", "json")
	cmd.MarkFlagsMutuallyExclusive("blow", "json")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return sensors(cmd, args, f) })
	return cmd
}

func sensors(cmd *cobra.Command, args []string, f sensorsFlags) (err error) {
	var s *shop.Shop
	switch {
	case len(args) == 1:
		if s, err = loadShop(cmd.ErrOrStderr(), args[0]); err != nil {
			return err
		}
	case !f.scan || f.simulated:
		return usage("name the shop file; only --scan of this board's own buses goes without")
	}
	said, err := parseFan(f.fan)
	if err != nil {
		return err
	}
	span, err := parseSeconds("--for", f.seconds)
	if err != nil {
		return err
	}
	wired, err := openWires(s, f.wiresFlags, f.once || f.blow != "")
	if err != nil {
		return err
	}
	defer closeInto(&err, wired, "buses")
	if f.scan {
		return scanBuses(cmd, s, wired)
	}
	w, err := live.Open(s, wired.buses, wired.clock, said, slog.New(slog.DiscardHandler)) // faults are in the table
	if err != nil {
		return err
	}
	defer closeInto(&err, w, "sensors")
	switch {
	case f.blow != "":
		return blow(cmd, s, w, wired, f.blow)
	case f.once:
		return sensorsOnce(cmd, s, w, span, f.json)
	}
	return sensorsLive(cmd, s, w, f.json)
}

// parseFan reads how the fans stand.
func parseFan(s string) (live.Fan, error) {
	switch s {
	case "":
		return live.Unknown, nil
	case "on":
		return live.Running, nil
	case "off":
		return live.Standing, nil
	}
	return live.Unknown, usage(`--fan %q: write "on" or "off", or leave it to the fan's switch`, s)
}

// parseSeconds reads a time of some seconds.
func parseSeconds(flag, s string) (time.Duration, error) {
	d, err := parseDuration(s)
	if err != nil || d < time.Second || d > 10*time.Minute {
		return 0, usage("%s %q: write a time from 1 s to 10 min", flag, s)
	}
	return d, nil
}

func sensorsOnce(cmd *cobra.Command, s *shop.Shop, w *live.Watch, span time.Duration, asJSON bool) error {
	bar := newProgress(cmd.ErrOrStderr(), "reading the sensors", int64(span/live.Beat))
	beats := int64(0)
	err := w.For(cmd.Context(), span, func() { beats++; bar.set(beats) })
	bar.finish()
	if err != nil {
		return err
	}
	rows := w.Rows()
	if asJSON {
		err = writeSensorsJSON(cmd.OutOrStdout(), s, w, rows)
	} else {
		err = writeSensors(cmd.OutOrStdout(), s, w, rows)
	}
	if err == nil && !allGood(rows) {
		return notFine()
	}
	return err
}

func allGood(rows []live.Row) bool {
	for _, r := range rows {
		switch r.Health.State {
		case live.Look, live.Faulty, live.Waiting:
			return false
		}
	}
	return true
}

// How often the table is shown anew: on a terminal, where it takes its own place, and in a pipe, where it is appended.
const (
	showEvery   = time.Second
	appendEvery = 10 * time.Second
)

// sensorsLive shows the table until the context is done.
func sensorsLive(cmd *cobra.Command, s *shop.Shop, w *live.Watch, asJSON bool) error {
	out := cmd.OutOrStdout()
	every := showEvery
	page := &page{w: out, terminal: isTerminal(out)}
	if !asJSON && !page.terminal {
		every = appendEvery
	}
	var failed error
	beats := -1
	err := w.For(cmd.Context(), math.MaxInt64/4, func() {
		if beats++; failed != nil || beats%int(every/live.Beat) != 0 {
			return
		}
		if asJSON {
			failed = writeSensorsJSON(out, s, w, w.Rows())
			return
		}
		failed = page.show(func(to io.Writer) error { return writeSensors(to, s, w, w.Rows()) })
	})
	return errors.Join(failed, stopped(err))
}

// page shows a text in the place of the one before it, where there is a terminal.
type page struct {
	w        io.Writer
	terminal bool
	lines    int
}

func (p *page) show(write func(io.Writer) error) error {
	var b lineCounter
	if err := write(&b); err != nil {
		return err
	}
	if p.terminal && p.lines > 0 {
		// ECMA-48: cursor up by so many lines, then erase from there to the end of the page.
		fmt.Fprintf(p.w, "\x1b[%dA\x1b[J", p.lines)
	}
	if !p.terminal {
		b.text = append(b.text, '\n')
	}
	p.lines = b.lines
	_, err := p.w.Write(b.text)
	return err
}

// lineCounter keeps what is written, and counts its lines.
type lineCounter struct {
	text  []byte
	lines int
}

func (c *lineCounter) Write(b []byte) (int, error) {
	c.text = append(c.text, b...)
	for _, x := range b {
		if x == '\n' {
			c.lines++
		}
	}
	return len(b), nil
}
