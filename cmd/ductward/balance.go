package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"ductward/internal/balance"
)

func newBalance() *cobra.Command {
	var f airflowFlags
	cmd := &cobra.Command{
		Use:   "balance SITE",
		Short: "Find which machines may be open together, and which can never be served",
		Long: `Solves the duct network of a shop file for every set of machines, and tells which
may be open together: so that each open machine has the air that it needs, the dust is
carried in every run that its air goes through, and the suction stays within the ducts'
rating. Everything else is shut meanwhile. It also tells what must be open as well with a
machine that is too small to carry its dust by itself, and why a machine can never be
served.

Each set is solved with the filter as told, clean by default, and with the filter at its
limit: a set that only works with a clean filter is not one to plan on. In a large shop
not every set can be solved; the answer says then how far it came.

Exit code 1 when some machine can never be served, or not with the filter at its limit.`,
		Example: `  ductward balance shop.yaml
  ductward balance shop.yaml --all
  ductward balance shop.yaml --speed 0.9 --json`,
		Args: cobra.ExactArgs(1),
	}
	fl := cmd.Flags()
	addStateFlags(fl, &f)
	fl.BoolVar(&f.all, "all", false, "tell every set, however many there are")
	fl.BoolVar(&f.json, "json", false, "write one JSON object")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return balanceShop(cmd, args[0], f) })
	return cmd
}

func balanceShop(cmd *cobra.Command, path string, f airflowFlags) error {
	s, err := loadShop(cmd.ErrOrStderr(), path)
	if err != nil {
		return err
	}
	states, err := airflowStates(s, f)
	if err != nil {
		return err
	}
	var answers []*balance.Answer
	served := true
	for _, c := range s.Collectors {
		if c.Network == nil {
			continue
		}
		a, err := balance.Of(c, balance.Ask{State: states[c.Name]})
		if err != nil {
			return fmt.Errorf("collector %q: %w", c.Name, err)
		}
		answers = append(answers, a)
		served = served && a.Served()
	}
	if len(answers) == 0 {
		return noDrawing()
	}
	if f.json {
		err = writeBalanceJSON(cmd.OutOrStdout(), answers)
	} else {
		err = writeBalanceTable(cmd.OutOrStdout(), answers, f.all)
	}
	if err != nil {
		return err
	}
	if !served {
		return notFine()
	}
	return nil
}
