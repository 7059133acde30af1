// Command strangers draws whole shops at random, lets them live by laws of its own, and writes what a shop's owner would
// have: the shop file, the readings as one-minute rows, the logbook. Beside them stands what was so. It uses nothing of
// the project. "judge" holds what "ductward replay --json" made of it against that.
package main

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "strangers:", err)
		os.Exit(1)
	}
}

func run() error {
	if len(os.Args) > 1 && os.Args[1] == "judge" {
		return judge(os.Args[2:], os.Stdout)
	}
	f := flag.NewFlagSet("strangers", flag.ExitOnError)
	var o options
	var d drawn
	dir := f.String("dir", ".", "folder to write to")
	seed := f.Uint64("seed", 1, "what the shop and its days are drawn from")
	l := f.Int("law", -1, "law of the wyes, 0 to 5; -1 draws it")
	f.StringVar(&o.set, "set", "B", "sensors: A, B, C or D")
	f.IntVar(&o.days, "days", 60, "days of work")
	f.BoolVar(&o.barometer, "barometer", false, "a barometer is read")
	f.StringVar(&o.habits.check, "check", "daily", "when the fan runs with every gate shut: none, daily, weekly, odd")
	f.Float64Var(&o.habits.second, "second", 0.4, "how often a second person works in an hour")
	f.Float64Var(&o.jitter, "hood", 0.03, "s.d. of the log of a hood's loss from use to use")
	f.Float64Var(&o.stir, "stir", 0, "and within one")
	f.Float64Var(&o.sloppy, "sloppy", 0, "s, s.d. of the times of the gates")
	f.Float64Var(&o.forget, "forget", 0, "share of the uses of which no gate is noted")
	f.Float64Var(&o.linger, "linger", 0, "share of the uses of which it is noted that they begin, and not that they end")
	f.BoolVar(&o.quiet, "quiet", false, "cleanings are not in the logbook")
	f.BoolVar(&o.sd, "sd", true, "rows carry the standard deviation of their samples")
	f.Float64Var(&o.missing, "missing", 0, "share of rows that are lost")
	f.StringVar(&o.less, "less", "", "what the shop file leaves out: drawing, or gates, which are then not read either")
	f.Float64Var(&d.built, "built", 0.10, "s.d. of the log of each run's loss against the drawing")
	f.Float64Var(&d.fan, "fan", 0.03, "and of the fan's pressure and flow")
	f.Float64Var(&d.leaks, "leaks", 0.4, "and of what each part lets in by itself")
	f.Func("fault", "KIND,DAY,SIZE[,PART[,DAYS]]; PART ? draws one, and trunk?, drop?, seat? one of these; may be repeated", func(s string) error {
		x, err := parseFault(s)
		o.faults = append(o.faults, x)
		return err
	})
	if err := f.Parse(os.Args[1:]); err != nil {
		return err
	}
	if fitted[o.set] == 0 {
		return fmt.Errorf("no set %q: write A, B, C or D", o.set)
	}
	if o.less != "" && o.less != lessDrawing && o.less != lessGates {
		return fmt.Errorf("-less %q: write drawing or gates", o.less)
	}
	// The shop is the same whatever happens in it.
	p := newPlant(rand.New(rand.NewPCG(*seed, 1)), *l, d)
	if err := p.place(rand.New(rand.NewPCG(*seed, 2)), o.faults); err != nil {
		return err
	}
	return write(*dir, &life{plant: p, options: o, r: rand.New(rand.NewPCG(*seed, 3))})
}

func write(dir string, l *life) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "shop.yaml"), []byte(l.file(l.set, l.barometer, l.less)), 0o644); err != nil {
		return err
	}
	readings, err := os.Create(filepath.Join(dir, "readings.csv"))
	if err != nil {
		return err
	}
	defer readings.Close()
	journal, err := os.Create(filepath.Join(dir, "journal.csv"))
	if err != nil {
		return err
	}
	defer journal.Close()
	buffer := bufio.NewWriter(readings)
	l.out, l.journal = buffer, journal
	if err := l.live(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)); err != nil {
		return err
	}
	if err := buffer.Flush(); err != nil {
		return err
	}
	b, err := json.MarshalIndent(l.truth, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "truth.json"), b, 0o644)
}
