package main

import (
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"ductward/internal/deliver"
	"ductward/internal/letter"
	"ductward/internal/outbox"
)

func newTell() *cobra.Command {
	var only []string
	cmd := &cobra.Command{
		Use:   "tell SITE",
		Short: "Send a test letter to everybody whom a shop file names",
		Long: `Sends one test letter to each webhook, mail server and collector of logs that a shop
file names under "outbound", now and once, and tells of each whether it was taken. The
watch need not run; the letter does not go through its outbox. Exit code 1 says that
not all of them took it.

Syslog over UDP answers nothing: look there whether the letter arrived.`,
		Example: `  ductward tell shop.yaml
  ductward tell shop.yaml --only mail --only webhook/office`,
		Args: cobra.ExactArgs(1),
	}
	cmd.Flags().StringArrayVar(&only, "only", nil, "this target alone, as mail, syslog or webhook/NAME; may be repeated")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return tell(cmd, args[0], only) })
	return cmd
}

func tell(cmd *cobra.Command, file string, only []string) error {
	s, err := loadShop(cmd.ErrOrStderr(), file)
	if err != nil {
		return err
	}
	names := s.Outbound.Targets()
	if len(names) == 0 {
		return usage("%s names nobody to tell: write webhooks, mail or syslog under \"outbound\"", file)
	}
	for _, o := range only {
		if !slices.Contains(names, o) {
			return usage("--only %q: the shop file has no such target; it has %q", o, names)
		}
	}
	targets, err := deliver.Targets(&s.Outbound)
	if err != nil {
		return err
	}
	it := outbox.Item{Number: 1, Letter: letter.OfTest(letter.Origin{Shop: s.Name, At: time.Now(), Zone: s.Site.Location}, "")}
	failed := false
	for _, t := range targets {
		if len(only) > 0 && !slices.Contains(only, t.Name) {
			continue
		}
		if err := t.Send(cmd.Context(), &it); err != nil {
			failed = true
			fmt.Fprintf(cmd.OutOrStdout(), "not taken: %v\n", err)
			continue
		}
		fmt.Fprintf(cmd.OutOrStdout(), "taken: %s at %s\n", t.Name, t.Host)
	}
	if failed {
		return notFine()
	}
	return nil
}
