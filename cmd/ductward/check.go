package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"ductward/internal/shop"
)

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check SITE",
		Short: "Find every mistake in a shop file",
		Long: `Reads a shop file and tells all of its mistakes in one pass, each with its line
and what to write instead. Warnings are told and do not count as mistakes.

Exit code 0 when the file can be used, 1 when it has mistakes, 3 when it cannot
be read.`,
		Example: "  ductward check shop.yaml",
		Args:    cobra.ExactArgs(1),
		RunE:    work(check),
	}
}

func check(cmd *cobra.Command, args []string) error {
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
