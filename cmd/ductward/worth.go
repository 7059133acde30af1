package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"ductward/internal/bound"
	"ductward/internal/quantity"
	"ductward/internal/shop"
	"ductward/internal/worth"
)

// worthFlags is what the command line asks about sensors.
type worthFlags struct {
	runs    int
	minutes float64
	checks  string
	hoods   string
	leak    string
	filter  float64
	top     int
	json    bool
}

func newWorth() *cobra.Command {
	var f worthFlags
	usual := bound.UsualHabits()
	cmd := &cobra.Command{
		Use:   "worth SITE",
		Short: "Tell what each sensor that could be added would let this shop see",
		Long: `Draws each sensor that could be added into a copy of the shop file, works out what all
readings together could tell at best, and ranks the sensors by that: how small a leak
is found, in a day and in a week; whether it is told from a blocked drop; whether the
right stretch of the trunk is named; how well the filter and the air at the machine
that lacks most are known. A stretch with every gate shut is tried beside them, where
the ducts are known to bear it.

The figures come from this shop's own ducts, fan, filter and gates, and are bounds: what
nobody can better. The rank is the mean of four shares: by how much the smallest leak
of a week, the one told beside a blocked drop, and the filter's error shrink, and how
much of the doubt about the stretch goes.

Each machine is taken to be used alone and with its neighbour in the file, in turn.
Without a drawing of the ducts it tells what the description could say beyond what it
does, and what that would bring.`,
		Example: `  ductward worth shop.yaml
  ductward worth shop.yaml --checks daily --hoods "10 %"
  ductward worth shop.yaml --leak "40 m3/h" --json`,
		Args: cobra.ExactArgs(1),
	}
	fl := cmd.Flags()
	fl.StringVar(&f.leak, "leak", "100 m3/h", "the leak whose stretch is asked, at the reference suction")
	fl.StringVar(&f.checks, "checks", "none", "when the fan runs with every gate shut already: none, weekly or daily")
	fl.IntVar(&f.runs, "runs", usual.Runs, "how often a day the gates are changed")
	fl.Float64Var(&f.minutes, "minutes", usual.Minutes, "how long they then stay")
	fl.StringVar(&f.hoods, "hoods", "3 %", "by how much the loss of a machine's hood and hose differs from use to use")
	fl.Float64Var(&f.filter, "filter-resistance", 1.5, "filter resistance, as a factor on that of the clean filter")
	fl.IntVar(&f.top, "top", 12, "how many the table shows; the JSON has them all")
	fl.BoolVar(&f.json, "json", false, "write one JSON object")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return worthShop(cmd, args[0], f) })
	return cmd
}

// worthAnswer is what one collector is told: an answer, or what its description lacks.
type worthAnswer struct {
	collector string
	answer    *worth.Answer
	lacks     []worth.Lack
}

func worthShop(cmd *cobra.Command, path string, f worthFlags) error {
	if f.top < 1 {
		return usage("--top %d: write how many to show, 1 or more", f.top)
	}
	change, err := worthQuestion(f)
	if err != nil {
		return err
	}
	s, err := loadShop(cmd.ErrOrStderr(), path)
	if err != nil {
		return err
	}
	q, err := worth.Usual(s.Site)
	if err != nil {
		return err
	}
	change(&q)
	answers, err := worthAll(cmd, s, q)
	if err != nil {
		return err
	}
	if f.json {
		return writeWorthJSON(cmd.OutOrStdout(), answers)
	}
	return writeWorthTable(cmd.OutOrStdout(), answers, f)
}

// worthAll asks for every collector.
func worthAll(cmd *cobra.Command, s *shop.Shop, q worth.Question) ([]worthAnswer, error) {
	var out []worthAnswer
	for _, c := range s.Collectors {
		if c.Network == nil {
			out = append(out, worthAnswer{collector: c.Name, lacks: worth.Lacks(c)})
			continue
		}
		var bar *progress
		q.Step = func(done, of int) {
			if bar == nil {
				bar = newProgress(cmd.ErrOrStderr(), c.Name, int64(of))
			}
			bar.set(int64(done))
		}
		a, err := worth.Of(c, q)
		if bar != nil {
			bar.finish()
		}
		if err != nil {
			return nil, err
		}
		out = append(out, worthAnswer{collector: c.Name, answer: a})
	}
	return out, nil
}

// checksNames are the words of --checks, by number of bound.Checks.
var checksNames = []string{"none", "weekly", "daily"}

// worthQuestion reads the flags and returns what they change of the usual question.
func worthQuestion(f worthFlags) (func(*worth.Question), error) {
	checks := slices.Index(checksNames, f.checks)
	if checks < 0 {
		return nil, usage("--checks %q: write one of %s", f.checks, strings.Join(checksNames, ", "))
	}
	if f.runs < 1 || f.runs > 500 {
		return nil, usage("--runs %d: write how often a day the gates are changed, 1 to 500", f.runs)
	}
	if !(f.minutes >= 1 && f.minutes <= 600) {
		return nil, usage("--minutes %g: write how long the gates stay, 1 to 600", f.minutes)
	}
	if err := positive("--filter-resistance", f.filter); err != nil {
		return nil, err
	}
	leak, err := quantity.Parse(quantity.Flow, f.leak)
	if err != nil {
		return nil, usage("--leak: %w", err)
	}
	hoods, err := quantity.Parse(quantity.Ratio, f.hoods)
	if err != nil {
		return nil, usage("--hoods: %w", err)
	}
	if leak <= 0 || hoods <= 0 || hoods > 1 {
		return nil, usage("%s: write a leak above zero, and hoods above 0 %% and up to 100 %%", fmt.Sprintf("--leak %q --hoods %q", f.leak, f.hoods))
	}
	return func(q *worth.Question) {
		q.Habits = bound.Habits{Runs: f.runs, Minutes: f.minutes, Checks: bound.Checks(checks)}
		q.Noise.Hood, q.Leak, q.Filter = hoods, leak, f.filter
	}, nil
}
