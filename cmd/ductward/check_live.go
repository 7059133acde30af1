package main

import (
	"fmt"
	"io"
	"log/slog"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"ductward/hardware/live"
	"ductward/hardware/scan"
	"ductward/internal/accord"
	"ductward/internal/air"
	"ductward/internal/shop"
)

// liveFlags is what the command line asks of a check of the wiring.
type liveFlags struct {
	wiresFlags
	live bool
	fan  string
	span string
}

// checkLive holds the wiring against a sound shop file.
func checkLive(cmd *cobra.Command, s *shop.Shop, f liveFlags) (err error) {
	said, err := parseFan(f.fan)
	if err != nil {
		return err
	}
	span, err := parseSeconds("--for", f.span)
	if err != nil {
		return err
	}
	wired, err := openWires(s, f.wiresFlags, true)
	if err != nil {
		return err
	}
	defer closeInto(&err, wired, "buses")
	out := cmd.OutOrStdout()
	strangers := tellUnnamed(out, s, wired)
	w, err := live.Open(s, wired.buses, wired.clock, said, slog.New(slog.DiscardHandler)) // faults are told below
	if err != nil {
		return err
	}
	defer closeInto(&err, w, "sensors")
	wrong, err := lookAtWiring(cmd, s, w, span)
	if err != nil {
		return err
	}
	for _, c := range s.Collectors {
		n, err := tellAccord(out, s, c, w)
		if err != nil {
			return err
		}
		wrong += n
	}
	if wrong += strangers; wrong > 0 {
		fmt.Fprintf(out, "the wiring: %s\n", count(wrong, "thing to look at", "things to look at"))
		return notFine()
	}
	fmt.Fprintln(out, "the wiring agrees with the file, as far as it can be seen now")
	return nil
}

// lookAtWiring watches for a while and tells each row that is not good.
func lookAtWiring(cmd *cobra.Command, s *shop.Shop, w *live.Watch, span time.Duration) (wrong int, err error) {
	bar := newProgress(cmd.ErrOrStderr(), "reading the sensors", int64(span/live.Beat))
	beats := int64(0)
	err = w.For(cmd.Context(), span, func() { beats++; bar.set(beats) })
	bar.finish()
	if err != nil {
		return 0, err
	}
	out, good, rows := cmd.OutOrStdout(), 0, w.Rows()
	for _, r := range rows {
		switch r.Health.State {
		case live.Good:
			good++
		case live.Waiting:
			wrong++
			fmt.Fprint(out, paragraph(fmt.Sprintf("%s: nothing has come in %v, %s: look again with a longer --for, or see whether it is sent", r.Channel, span, r.Where)))
		case live.Look, live.Faulty:
			wrong++
			fmt.Fprint(out, paragraph(r.Channel+": "+withoutName(r)))
		}
	}
	fmt.Fprintf(out, "%d of %d channels are good", good, len(rows))
	for _, c := range s.Collectors {
		fmt.Fprintf(out, "; the fan of %s is %s", c.Name, w.Fan(c.Name))
	}
	fmt.Fprintln(out)
	return wrong, nil
}

// tellUnnamed names the parts that answer on the file's buses and are not what the file has there.
func tellUnnamed(out io.Writer, s *shop.Shop, wired *wires) int {
	parts, asked, n := namedParts(s), map[string]bool{}, 0
	for _, p := range parts {
		name := sameBusName(p.from.Bus)
		if asked[name] {
			continue
		}
		asked[name] = true
		bus, err := wired.buses.I2C(p.from.Bus)
		if err != nil {
			continue // each channel on it tells
		}
		for _, f := range scan.Bus(bus, name, wired.clock.Sleep) {
			if text := whose(f, s, parts); !strings.HasPrefix(text, "; in the file") {
				n++
				fmt.Fprintf(out, "i2c bus %s %s: %s%s\n", name, f.Place(), f.About, text)
			}
		}
	}
	return n
}

// tellAccord holds what the sensors of a collector read against the model, where fan and gates are known.
func tellAccord(out io.Writer, s *shop.Shop, c *shop.Collector, w *live.Watch) (int, error) {
	setting, unknown := w.Setting(c)
	switch {
	case c.Network == nil:
		return 0, nil
	case w.Fan(c.Name) != live.Running:
		fmt.Fprint(out, paragraph(fmt.Sprintf("%s: its fan is not known to run, so that the pressures are not held against the drawing: look again while it runs, with --fan on where no switch tells", c.Name)))
		return 0, nil
	case len(unknown) > 0:
		fmt.Fprint(out, paragraph(fmt.Sprintf("%s: the pressures are not held against the drawing, since nobody knows how these stand: %s", c.Name, strings.Join(unknown, ", "))))
		return 0, nil
	}
	state, err := air.At(s.Site.Temperature, air.PressureAt(s.Site.Altitude), s.Site.Humidity)
	if err != nil {
		return 0, err
	}
	a, err := accord.Of(c, setting, state, w.Means(c))
	if err != nil {
		return 0, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	return tellAnswer(out, c, a)
}

// tellAnswer writes what the comparison came to and returns how many things are wrong.
func tellAnswer(out io.Writer, c *shop.Collector, a *accord.Answer) (wrong int, err error) {
	t := &table{heads: []string{c.Name, "reads", "should read", "<"}}
	for _, r := range a.Rows {
		if !r.Compared {
			continue
		}
		word := ""
		if !r.Fits {
			wrong++
			word = "DOES NOT FIT"
		}
		t.add(strings.TrimPrefix(r.Channel, c.Name+"/"), cell(r.Read, 0), cell(r.Expected, 0)+" Pa", word)
	}
	if len(t.rows) > 0 {
		err = t.write(out)
	}
	if !a.FilterFits {
		wrong++
		fmt.Fprint(out, paragraph("the filter's drop is none that a filter in use can have by this drawing: look at its tubes, its span and at \"clean\" in the file"))
	} else if !math.IsNaN(a.Filter) {
		fmt.Fprintf(out, "the filter's drop is that of %.1f times the clean filter's resistance\n", a.Filter)
	}
	if a.Exchanged[0] != "" {
		fmt.Fprint(out, paragraph(fmt.Sprintf("%s and %s would fit if each had the other's reading: look for exchanged tubes or addresses", a.Exchanged[0], a.Exchanged[1])))
	}
	return wrong, err
}
