package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// airflowFlags is what the command line asks of the model.
type airflowFlags struct {
	open    []string
	leaks   []string
	blocked []string
	filter  float64
	speed   float64
	air     string
	explain []string
	all     bool
	json    bool
}

// solvedCollector is the model's answer for one collector.
type solvedCollector struct {
	name    string
	shop    *shop.Collector
	model   *duct.Model
	result  *duct.Result
	verdict verdict.Verdict
	least   float64             // m/s, what carries the dust
	runs    []verdict.Run       // by run
	wyes    []float64           // Pa, by run
	paths   []*duct.Path        // of the machines to explain
	others  []duct.WorkingPoint // beside the result's
}

func newAirflow() *cobra.Command {
	var f airflowFlags
	cmd := &cobra.Command{
		Use:   "airflow SITE --open NAME,NAME",
		Short: "Tell the model's flows, velocities and pressures for a set of open gates",
		Long: `Solves the duct network of a shop file for a set of open gates and tells the flow
at each machine against what it needs; the flow, velocity and pressures in each run
of duct, what it loses and its share in the fan's rise, and where dust may settle; the
fan's working point; and what each sensor should read.

--explain MACHINE tells instead what each thing on the way from a machine through the
ducts and the collector to the room costs, the worst first: hood, gate, every fitting,
straight duct, hose, wyes, separator, filter and discharge. They add up to the fan's
rise.

A name is a gate, a machine (every gate on its way is opened) or SELECTOR=PORT. A name
that two collectors have is written COLLECTOR/NAME. With nothing open the only flow
is leakage. Pressures are gauge: suction is negative.`,
		Example: `  ductward airflow shop.yaml --open "table saw,planer"
  ductward airflow shop.yaml --open planer --explain planer
  ductward airflow shop.yaml --open saw --leak run:main2=20m3/h@1500Pa --json
  ductward airflow shop.yaml --open saw --filter-resistance 2.5 --air 5C,98000Pa,80%`,
		Args: cobra.ExactArgs(1),
	}
	fl := cmd.Flags()
	fl.StringSliceVar(&f.open, "open", nil, "gates, machines or SELECTOR=PORT that are open; none: all shut")
	fl.StringArrayVar(&f.leaks, "leak", nil, "a leak, PART=FLOW@SUCTION, as run:main=0.0025m3/s@1500Pa; may be repeated")
	fl.Float64Var(&f.filter, "filter-resistance", 1, "filter resistance, as a factor on that of the clean filter")
	fl.StringArrayVar(&f.blocked, "blocked", nil, "a blocked drop, MACHINE=FACTOR on its loss; may be repeated")
	fl.Float64Var(&f.speed, "speed", 1, "fan speed, as a factor on that at which it runs")
	fl.StringVar(&f.air, "air", "", "the air, TEMPERATURE,PRESSURE,HUMIDITY as 20C,101325Pa,50% (default: the site's)")
	fl.StringSliceVar(&f.explain, "explain", nil, "tell what each thing on the way of these open machines costs")
	fl.BoolVar(&f.all, "all", false, "tell every run and every leak, also those that carry no machine's air")
	fl.BoolVar(&f.json, "json", false, "write one JSON object")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return airflow(cmd, args[0], f) })
	return cmd
}

func airflow(cmd *cobra.Command, path string, f airflowFlags) error {
	s, err := loadShop(cmd.ErrOrStderr(), path)
	if err != nil {
		return err
	}
	states, err := airflowStates(s, f)
	if err != nil {
		return err
	}
	solved, err := solveAll(s, states)
	if err != nil {
		return err
	}
	if err := explain(s, solved, f.explain); err != nil {
		return err
	}
	switch out := cmd.OutOrStdout(); {
	case f.json:
		return writeAirflowJSON(out, solved)
	case len(f.explain) > 0:
		return writePaths(out, solved)
	default:
		return writeAirflowTable(out, solved, f.all)
	}
}

// solveAll solves every collector that has a drawing. The answer is in the order of the file.
func solveAll(s *shop.Shop, states map[string]duct.State) ([]solvedCollector, error) {
	var solved []solvedCollector
	for _, c := range s.Collectors {
		if c.Network == nil {
			continue
		}
		answer, err := solveOne(c, states[c.Name])
		if err != nil {
			return nil, fmt.Errorf("collector %q: %w", c.Name, err)
		}
		solved = append(solved, answer)
	}
	if len(solved) == 0 {
		return nil, fmt.Errorf("no collector has a drawing of its ducts: write \"runs\" in the shop file to have them solved")
	}
	return solved, nil
}

func solveOne(c *shop.Collector, st duct.State) (solvedCollector, error) {
	answer := solvedCollector{name: c.Name, shop: c}
	var err error
	if answer.model, err = duct.New(c); err != nil {
		return answer, err
	}
	if answer.result, err = answer.model.Solve(st); err != nil {
		return answer, err
	}
	judge := verdict.For(c)
	answer.verdict, answer.runs, answer.least = judge.Of(answer.result), judge.Runs(answer.result), judge.Least
	if answer.wyes, err = answer.model.WyeLosses(answer.result); err != nil {
		return answer, err
	}
	answer.others, err = answer.model.OtherWorkingPoints(answer.result)
	return answer, err
}

// cut splits "NAME=VALUE".
func cut(flag, s, example string) (name, value string, err error) {
	name, value, ok := strings.Cut(s, "=")
	if !ok || name == "" || value == "" {
		return "", "", usage("--%s %q: write it as %s", flag, s, example)
	}
	return name, value, nil
}
