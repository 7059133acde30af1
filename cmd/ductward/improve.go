package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ductward/internal/duct"
	"ductward/internal/improve"
	"ductward/internal/shop"
)

// improveFlags is what the command line asks about changes.
type improveFlags struct {
	open   []string
	filter float64
	speed  float64
	air    string
	top    int
	json   bool
}

func newImprove() *cobra.Command {
	var f improveFlags
	cmd := &cobra.Command{
		Use:   "improve SITE",
		Short: "Tell which changes of the ducts would give the machines that lack air most",
		Long: `Draws changes into the ducts of a shop file, one at a time, solves each for every set
of gates, and ranks them by the air that they give the machines that are short of
their need: hose to pipe, easier elbows and wyes, larger pipe, tighter seams and gates,
better entries, a larger filter. Then it does the best ones one after the other.

The sets are each machine alone, each pair, and all together, or what --open says. Sets
whose machines need more than the collector moves without any ducts count for nobody's
gain, unless --open names them. In no set may a change let dust settle where it did
not before, nor make a run wider that is then too slow, nor pull more than the ducts
bear: such changes are listed apart, with the reason.

With "prices" in the shop file, it tells what each change costs. Exit code 1: a machine
is still short after the last step.`,
		Example: `  ductward improve shop.yaml
  ductward improve shop.yaml --open "table saw,planer" --open thicknesser
  ductward improve shop.yaml --filter-resistance 2 --json`,
		Args: cobra.ExactArgs(1),
	}
	fl := cmd.Flags()
	fl.StringArrayVar(&f.open, "open", nil, "a set of gates or machines, NAME,NAME, to judge; may be repeated (default: the usual sets)")
	fl.Float64Var(&f.filter, "filter-resistance", 1, "filter resistance, as a factor on that of the clean filter")
	fl.Float64Var(&f.speed, "speed", 1, "fan speed, as a factor on that of the curve")
	fl.StringVar(&f.air, "air", "", "the air, TEMPERATURE,PRESSURE,HUMIDITY as 20C,101325Pa,50% (default: the site's)")
	fl.IntVar(&f.top, "top", 12, "how many changes the table shows; the JSON has them all")
	fl.BoolVar(&f.json, "json", false, "write one JSON object")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return improveShop(cmd, args[0], f) })
	return cmd
}

func improveShop(cmd *cobra.Command, path string, f improveFlags) error {
	if f.top < 1 {
		return usage("--top %d: write how many changes to show, 1 or more", f.top)
	}
	s, err := loadShop(cmd.ErrOrStderr(), path)
	if err != nil {
		return err
	}
	answers, err := improveAll(s, f)
	if err != nil {
		return err
	}
	if f.json {
		err = writeImproveJSON(cmd.OutOrStdout(), answers)
	} else {
		err = writeImproveTable(cmd.OutOrStdout(), answers, f)
	}
	if err != nil {
		return err
	}
	for _, a := range answers {
		if !a.Served() {
			return notFine()
		}
	}
	return nil
}

// improveAll asks for every collector that has a drawing and, with --open, is named there.
func improveAll(s *shop.Shop, f improveFlags) ([]*improve.Answer, error) {
	states, sets, err := improveStates(s, f)
	if err != nil {
		return nil, err
	}
	var answers []*improve.Answer
	for _, c := range s.Collectors {
		state, drawn := states[c.Name]
		if !drawn || len(f.open) > 0 && len(sets[c.Name]) == 0 {
			continue
		}
		a, err := improve.Of(c, improve.Question{State: state, Sets: sets[c.Name], Prices: s.Prices})
		if err != nil {
			return nil, err
		}
		answers = append(answers, a)
	}
	if len(answers) == 0 {
		return nil, fmt.Errorf("no collector has a drawing of its ducts: write \"ducts\" in the shop file to have changes tried")
	}
	return answers, nil
}

// improveStates reads the state of each collector with a drawing, and the sets that --open names in it.
func improveStates(s *shop.Shop, f improveFlags) (map[string]duct.State, map[string][]improve.Set, error) {
	common := airflowFlags{filter: f.filter, speed: f.speed, air: f.air}
	states, err := airflowStates(s, common)
	if err != nil {
		return nil, nil, err
	}
	sets := map[string][]improve.Set{}
	for _, names := range f.open {
		list := strings.Split(names, ",")
		open, err := assignOpen(s, list)
		if err != nil {
			return nil, nil, err
		}
		if len(open) == 0 {
			return nil, nil, usage("--open %q: name at least one machine or gate", names)
		}
		common.open = list
		set, err := airflowStates(s, common)
		if err != nil {
			return nil, nil, err
		}
		for collector := range open {
			sets[collector] = append(sets[collector], improve.Set{Setting: set[collector].Setting, Asked: true})
		}
	}
	return states, sets, nil
}
