package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"ductward/dashboard/draw"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// drawFlags is what the command line asks of the drawing.
type drawFlags struct {
	airflowFlags
	collector string
	out       string
}

func newDraw() *cobra.Command {
	f := drawFlags{airflowFlags: airflowFlags{filter: 1, speed: 1}}
	cmd := &cobra.Command{
		Use:   "draw SITE --open NAME,NAME",
		Short: "Draw the ducts with the model's flows, velocities and pressures",
		Long: `Draws the duct network of one collector as an SVG picture for a set of open gates:
machines on the left, the collector at the lower right, and every run of duct with
its diameter, flow, velocity and static pressure. A channel is as wide as the air
that its machines need and filled as far as the air that flows.

The picture is a file of its own, without script or outside reference, in the shape
of a landscape sheet: print it on A4, or on A3 from about 30 runs on.

A name is a gate, a machine (every gate on its way is opened) or SELECTOR=PORT. A name
that two collectors have is written COLLECTOR/NAME.`,
		Example: `  ductward draw shop.yaml --open "table saw,planer" --out ducts.svg
  ductward draw shop.yaml --open saw --leak run:main2=20m3/h@1500Pa > leak.svg`,
		Args: cobra.ExactArgs(1),
	}
	fl := cmd.Flags()
	fl.StringSliceVar(&f.open, "open", nil, "gates, machines or SELECTOR=PORT that are open; none: all shut")
	fl.StringArrayVar(&f.leaks, "leak", nil, "a leak, PART=FLOW@SUCTION, as run:main=0.0025m3/s@1500Pa; may be repeated")
	fl.Float64Var(&f.filter, "filter-resistance", 1, "filter resistance, as a factor on that of the clean filter")
	fl.StringVar(&f.collector, "collector", "", "which collector; needed where several have a drawing")
	fl.StringVar(&f.out, "out", "", "the file to write (default: standard output)")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return drawDucts(cmd, args[0], f) })
	return cmd
}

func drawDucts(cmd *cobra.Command, path string, f drawFlags) error {
	s, err := loadShop(cmd.ErrOrStderr(), path)
	if err != nil {
		return err
	}
	c, err := collectorToDraw(s, f.collector)
	if err != nil {
		return err
	}
	states, err := airflowStates(s, f.airflowFlags)
	if err != nil {
		return err
	}
	solved, err := solveAll(s, states)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(solved, func(x solvedCollector) bool { return x.name == c.Name })
	svg := drawing(s, c, states[c.Name], solved[at].result)
	if f.out == "" {
		_, err = fmt.Fprint(cmd.OutOrStdout(), svg)
		return err
	}
	return os.WriteFile(f.out, []byte(svg), 0o644)
}

// collectorToDraw finds the collector that is meant among those that have a drawing.
func collectorToDraw(s *shop.Shop, name string) (*shop.Collector, error) {
	var drawn []*shop.Collector
	var names []string
	for _, c := range s.Collectors {
		if c.Network != nil {
			drawn, names = append(drawn, c), append(names, fmt.Sprintf("%q", c.Name))
		}
	}
	if len(drawn) == 0 {
		return nil, fmt.Errorf("no collector has a drawing of its ducts: write \"ducts\" with its runs in the shop file")
	}
	if name == "" {
		if len(drawn) > 1 {
			return nil, usage("several collectors have a drawing: choose one with --collector, of %s", strings.Join(names, ", "))
		}
		return drawn[0], nil
	}
	for _, c := range drawn {
		if c.Name == name {
			return c, nil
		}
	}
	return nil, usage("--collector %q: there is no such collector with a drawing; there is %s", name, strings.Join(names, ", "))
}

// drawing is the picture of a solved state, as a file of its own.
func drawing(s *shop.Shop, c *shop.Collector, st duct.State, r *duct.Result) string {
	sheet := draw.Solved(c, st, r)
	sheet.Alone, sheet.ID = true, "1"
	sheet.Title = "The ducts of " + s.Name
	title := s.Name
	if len(s.Collectors) > 1 {
		sheet.Title, title = sheet.Title+", collector "+c.Name, title+", collector "+c.Name
	}
	sheet.Heading = []string{title, openWords(r)}
	if st.FilterRatio != 1 {
		sheet.Heading = append(sheet.Heading, fmt.Sprintf("Filter resistance: %g of the clean filter's", st.FilterRatio))
	}
	return string(sheet.SVG())
}

// openWords says which machines are open.
func openWords(r *duct.Result) string {
	var open []string
	for _, m := range r.Machines {
		if m.Open {
			open = append(open, m.Name)
		}
	}
	if len(open) == 0 {
		return "No machine is open."
	}
	return "Open: " + strings.Join(open, ", ")
}
