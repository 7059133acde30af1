package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"ductward/hardware/live"
	"ductward/internal/shop"
)

// blowFirst stands before the first step.
const blowFirst = `Never blow into a sensor: a breath is over its range, and a jet of air breaks it. Wood
dust burns and hurts: no flame, no jet of air at an open duct.
`

// blow goes through one sensor with the person at the keyboard.
func blow(cmd *cobra.Command, s *shop.Shop, w *live.Watch, wired *wires, name string) error {
	channel, err := pressureChannel(s, name)
	if err != nil {
		return err
	}
	out, in := cmd.OutOrStdout(), bufio.NewReader(cmd.InOrStdin())
	fmt.Fprintf(out, "%s, in three steps.\n%s", channel, blowFirst)
	ask := func(n, of int, step live.Step) error {
		fmt.Fprintf(out, "\n%s", paragraph(fmt.Sprintf("%d of %d. %s", n, of, step.Do)))
		fmt.Fprintf(out, "Then press Enter, and leave it alone for %.0f seconds.\n", step.For.Seconds())
		if wired.still != nil {
			wired.still.SetFans(step.Fan == live.Running)
			return wired.clock.Wait(cmd.Context(), time.Minute) // as long as a person would take, and nobody has to
		}
		return enter(in)
	}
	found := func(_ live.Seen, f live.Finding) {
		mark := "good: "
		if !f.Fine {
			mark = "LOOK: "
		}
		fmt.Fprint(out, paragraph(mark+f.Text))
	}
	fine, err := w.Guide(cmd.Context(), channel, ask, found)
	if err != nil {
		return err
	}
	if !fine {
		fmt.Fprintf(out, "\n%s: not right yet.\n", channel)
		return notFine()
	}
	fmt.Fprint(out, "\n"+paragraph(channel+": right. If its tubes, its tap or the part itself are not what they were, enter \"sensor-changed\" into the logbook, so that the watch begins a new baseline."))
	return nil
}

// enter waits for a line.
func enter(in *bufio.Reader) error {
	_, err := in.ReadString('\n')
	if errors.Is(err, io.EOF) {
		return usage("--blow waits for Enter after each step, and there is no keyboard: run it on a terminal")
	}
	return err
}

// pressureChannel finds the channel of a sensor's name, with or without its collector's.
func pressureChannel(s *shop.Shop, name string) (string, error) {
	var all, found []string
	for _, c := range s.Collectors {
		for _, n := range c.Sensors {
			channel := c.ChannelOf(n.Name)
			all = append(all, fmt.Sprintf("%q", channel))
			if n.Name == name || channel == name {
				found = append(found, channel)
			}
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return "", usage("--blow %q: no sensor has that name; there are %s", name, strings.Join(all, ", "))
	}
	return "", usage("--blow %q: several collectors have one; write %q", name, found[0])
}
