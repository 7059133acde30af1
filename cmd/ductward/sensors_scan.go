package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"ductward/hardware"
	"ductward/hardware/scan"
	"ductward/internal/shop"
)

// scanBuses tells what answers on every bus, and holds it against the shop file where there is one.
func scanBuses(cmd *cobra.Command, s *shop.Shop, wired *wires) error {
	out := cmd.OutOrStdout()
	list, ok := wired.buses.(hardware.Lister)
	if !ok || len(list.I2CNames()) == 0 {
		fmt.Fprintln(out, "This board has no I²C bus: switch it on in the board's settings, and look for /dev/i2c-*.")
		return notFine()
	}
	named := namedParts(s)
	var failed error
	if s != nil { // a part without its supply answers nobody
		failed = hardware.SwitchOn(s, wired.buses, wired.clock)
	}
	for _, name := range list.I2CNames() {
		bus, err := wired.buses.I2C(name)
		if err != nil {
			failed = errors.Join(failed, err)
			continue
		}
		tellBus(out, name, scan.Bus(bus, name, wired.clock.Sleep), s, named)
	}
	return errors.Join(failed, tellMissing(out, named))
}

// namedPart is a part that the shop file names.
type namedPart struct {
	channel string
	from    *shop.Source
	seen    bool
}

func namedParts(s *shop.Shop) []*namedPart {
	var parts []*namedPart
	if s == nil {
		return nil
	}
	for _, c := range s.Collectors {
		for _, n := range c.Sensors {
			if n.From.Kind == shop.SourceI2C {
				parts = append(parts, &namedPart{channel: c.ChannelOf(n.Name), from: &n.From})
			}
		}
	}
	return parts
}

func tellBus(out io.Writer, name string, found []scan.Found, s *shop.Shop, named []*namedPart) {
	fmt.Fprintf(out, "i2c bus %s: %s\n", name, count(len(found), "part answers", "parts answer"))
	for _, f := range found {
		fmt.Fprintf(out, "  %s  %s%s\n", f.Place(), f.About, whose(f, s, named))
		line, missing := f.Line()
		if line != "" {
			fmt.Fprintf(out, "        %s\n", line)
		}
		if missing != "" {
			fmt.Fprintf(out, "        # %s\n", missing)
		}
	}
}

// whose says which channel of the shop file a part is, and notes that it answers.
func whose(f scan.Found, s *shop.Shop, named []*namedPart) string {
	if s == nil {
		return ""
	}
	for _, p := range named {
		if sameBusName(p.from.Bus) != sameBusName(f.Bus) || p.from.Address != f.Address || p.from.Mux != f.Mux || p.from.Port != f.Port {
			continue
		}
		p.seen = true
		if p.from.Chip == f.Chip {
			return fmt.Sprintf("; in the file: %s", p.channel)
		}
		return fmt.Sprintf("; the file has %q there, for %s", p.from.Chip, p.channel)
	}
	return "; not in the file"
}

// sameBusName drops what may stand before a bus's number.
func sameBusName(name string) string {
	return strings.TrimPrefix(strings.TrimPrefix(name, "/dev/i2c-"), "I2C")
}

// tellMissing names the parts of the shop file that did not answer.
func tellMissing(out io.Writer, named []*namedPart) error {
	missing := 0
	for _, p := range named {
		if !p.seen {
			missing++
			fmt.Fprintf(out, "%s: nothing answers on i2c bus %s at 0x%02x, where the file has %q\n", p.channel, p.from.Bus, p.from.Address, p.from.Chip)
		}
	}
	if missing > 0 {
		return notFine()
	}
	return nil
}
