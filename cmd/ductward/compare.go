package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ductward/internal/compare"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

func newCompare() *cobra.Command {
	var f airflowFlags
	var open []string
	cmd := &cobra.Command{
		Use:   "compare SITE-A SITE-B",
		Short: "Hold two drawings of a shop against each other: who gains air, who loses",
		Long: `Solves the duct networks of two shop files for the same sets of open machines, and
tells for each machine what it gets in the first and in the second, who is short in one
and not in the other, and in which runs dust may settle in one and not in the other.

Without --open the sets are each machine alone, each pair of machines that can be open
together, and as many as possible together, of the machines that both drawings have. With
--open they are those that are asked for: each --open is one set. A name is a gate, a
machine or SELECTOR=PORT, by its name in either drawing; where a drawing lacks it, the
set is solved without it there. Parts are matched by name, and by "was" over a rename.

Exit code 1 when in some set the second drawing leaves a machine short that had its air,
lets dust settle where it did not, or goes above the ducts' rating where it did not.`,
		Example: `  ductward compare shop.yaml shop-with-larger-trunk.yaml
  ductward compare now.yaml plan.yaml --open "planer" --open "planer,band saw"
  ductward compare now.yaml plan.yaml --filter-resistance 2.4 --json`,
		Args: cobra.ExactArgs(2),
	}
	fl := cmd.Flags()
	fl.StringArrayVar(&open, "open", nil, "a set to compare, NAME,NAME; may be repeated (default: all sensible ones)")
	addStateFlags(fl, &f)
	fl.BoolVar(&f.all, "all", false, "tell every set, and not only those in which something turns")
	fl.BoolVar(&f.json, "json", false, "write one JSON object")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return compareShops(cmd, args, open, f) })
	return cmd
}

// compared is what two shop files come to.
type compared struct {
	paths   [2]string
	only    [2][]string // collectors that only one file draws
	answers []*compare.Answer
	asked   bool // the sets are those that were asked for
	filter  float64
}

func compareShops(cmd *cobra.Command, paths, open []string, f airflowFlags) error {
	var shops [2]*shop.Shop
	var states [2]map[string]duct.State
	for i, path := range paths {
		var err error
		if shops[i], err = loadShop(cmd.ErrOrStderr(), path); err != nil {
			return err
		}
		if states[i], err = airflowStates(shops[i], f); err != nil {
			return err
		}
	}
	out := &compared{paths: [2]string(paths), asked: len(open) > 0, filter: f.filter}
	pairs, only := compare.Collectors(shops[0], shops[1])
	out.only = only
	if len(pairs) == 0 {
		return noCommonCollector(shops)
	}
	sets, err := assignSets(pairs, open)
	if err != nil {
		return err
	}
	for i, p := range pairs {
		if out.asked && len(sets[i]) == 0 {
			continue // nothing was asked about this collector
		}
		a, err := compare.Of(p[0], p[1], compare.Ask{Open: sets[i], State: [2]duct.State{states[0][p[0].Name], states[1][p[1].Name]}})
		if err != nil {
			return namesOrFailure(fmt.Errorf("collector %q: %w", p[1].Name, err))
		}
		out.answers = append(out.answers, a)
	}
	return out.tell(cmd, f)
}

// assignSets gives each pair of collectors its part of each set that was asked for.
func assignSets(pairs [][2]*shop.Collector, open []string) ([][][]string, error) {
	sets := make([][][]string, len(pairs))
	for _, names := range open {
		parts, err := compare.Assign(pairs, strings.Split(names, ","))
		if err != nil {
			return nil, namesOrFailure(fmt.Errorf("--open %q: %w", names, err))
		}
		for i, p := range parts {
			if len(p) > 0 {
				sets[i] = append(sets[i], p)
			}
		}
	}
	return sets, nil
}

// namesOrFailure makes wrong names wrong use.
func namesOrFailure(err error) error {
	var wrong *compare.NameError
	if errors.As(err, &wrong) {
		return &coded{exitUse, err}
	}
	return err
}

// noCommonCollector says why there is nothing to compare.
func noCommonCollector(shops [2]*shop.Shop) error {
	for _, s := range shops {
		drawn := false
		for _, c := range s.Collectors {
			drawn = drawn || c.Network != nil
		}
		if !drawn {
			return fmt.Errorf("%s: %w", s.Path, noDrawing())
		}
	}
	return errors.New("the two files have no collector in common: give them one name, or write the earlier name as \"was\"")
}

func (c *compared) tell(cmd *cobra.Command, f airflowFlags) error {
	var err error
	if f.json {
		err = writeCompareJSON(cmd.OutOrStdout(), c)
	} else {
		err = writeCompareTable(cmd.OutOrStdout(), c, f.all)
	}
	if err != nil {
		return err
	}
	for _, a := range c.answers {
		if a.Worse() {
			return notFine()
		}
	}
	return nil
}
