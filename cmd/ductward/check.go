package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"ductward/internal/shop"
)

func newCheck() *cobra.Command {
	var f liveFlags
	cmd := &cobra.Command{
		Use:   "check SITE",
		Short: "Find every mistake in a shop file, and with --live in the wiring",
		Long: `Reads a shop file and tells all of its mistakes in one pass, each with its line
and what to write instead. Warnings are told and do not count as mistakes, nor does
advice: where the drawing shows that a tap is too close behind an elbow, a junction or
a hood to read steadily.

With --live it then looks at the wires: whether each source answers and is what the
file says, whether a part answers that the file does not name, and whether each sensor
can be right. While the fan runs and the positions of all gates are known, the
pressures are held against the model: it is off by a third in many a sound shop, so
that only a factor of two or a wrong sign is told.

Exit code 0 when all is in order, 1 when there is something to put right, 3 when the
file cannot be read.`,
		Example: `  ductward check shop.yaml
  ductward check shop.yaml --live
  ductward check shop.yaml --live --fan on --for "1 min"`,
		Args: cobra.ExactArgs(1),
	}
	fl := cmd.Flags()
	fl.BoolVar(&f.live, "live", false, "look at the sensors and switches as well")
	fl.StringVar(&f.fan, "fan", "", `with --live, how every fan stands, "on" or "off", where no switch tells it`)
	fl.StringVar(&f.span, "for", "15 s", "with --live, how long to look, from 1 s to 10 min")
	f.wiresFlags.add(fl)
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return check(cmd, args, f) })
	return cmd
}

func check(cmd *cobra.Command, args []string, f liveFlags) error {
	s, problems, err := shop.Load(args[0])
	if err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if mistakes := tellProblems(out, problems); mistakes > 0 {
		fmt.Fprintf(out, "%s: %s\n", args[0], count(mistakes, "mistake", "mistakes"))
		return notFine()
	}
	fmt.Fprintf(out, "%s: %s\n", args[0], shopSummary(s))
	for _, c := range s.Collectors {
		for _, a := range c.TapAdvice() {
			fmt.Fprint(out, paragraph(fmt.Sprintf("%s:%d: advice: %s", args[0], a.Line, a.Text())))
		}
	}
	if f.live {
		return checkLive(cmd, s, f)
	}
	return nil
}

// tellProblems writes one line a problem and returns how many of them are mistakes.
func tellProblems(w io.Writer, problems []shop.Problem) int {
	mistakes := 0
	for _, p := range problems {
		if p.Warning {
			fmt.Fprintln(w, p.Error())
			continue
		}
		mistakes++
		fmt.Fprintln(w, p.Error())
	}
	return mistakes
}

// loadShop reads a shop file for a command that needs a sound one: warnings and mistakes go to w, and mistakes end the
// command with exit code 1.
func loadShop(w io.Writer, path string) (*shop.Shop, error) {
	s, problems, err := shop.Load(path)
	if err != nil {
		return nil, err
	}
	if tellProblems(w, problems) > 0 {
		return nil, notFine()
	}
	return s, nil
}

// shopSummary counts what a sound shop file holds.
func shopSummary(s *shop.Shop) string {
	var machines, gates, sensors, runs int
	for _, c := range s.Collectors {
		machines += len(c.Machines)
		gates += len(c.Gates)
		sensors += len(c.Sensors)
		if c.Network != nil {
			runs += len(c.Network.Runs)
		}
	}
	return fmt.Sprintf("%q is in order: %s, %s, %s, %s, %s", s.Name,
		count(len(s.Collectors), "collector", "collectors"), count(runs, "run of duct", "runs of duct"),
		count(machines, "machine", "machines"), count(gates, "gate", "gates"), count(sensors, "sensor", "sensors"))
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
