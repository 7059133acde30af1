package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"ductward/internal/journal"
	"ductward/internal/store"
)

func newVerify() *cobra.Command {
	var data, head string
	var repair bool
	cmd := &cobra.Command{
		Use:   "verify [BACKUP] [--data DIR]",
		Short: "Check a store, or a backup, from end to end",
		Long: `Reads the whole of a store, or of a backup, and tests each of the numbered invariants
that the store keeps: checksums, order, that no reading stands twice, that means count
what they should, and the pages of the file. Each place that does not hold is named, and
the exit code is 1. Nothing is written.

The entries of the logbook are chained by SHA-256. The head of the chain is printed, and
held against those that the weekly letters took along; --head holds it against one that
you kept, from a letter or from a printed pack. Where the chain still holds it, no entry
up to there was changed, taken out or put in between since it was sent. It does not tell
whether an entry was true, nor what happened to it before.

The store must not be in use. Of one that is, verify a backup: "ductward backup" does.

With --repair a store that is not sound is set aside, and a new one made of what can be
read of it. "ductward run" does so by itself where it cannot use the file.`,
		Example: `  ductward verify --data /var/lib/ductward
  ductward verify /media/stick/ductward-2026-03-14.db
  ductward verify --head 661a253f15fc90e3c1c518ab96f53086d8a215d65f76036246e5c47123c25a5d`,
		Args: cobra.MaximumNArgs(1),
	}
	cmd.Flags().StringVar(&data, "data", "", "folder of the store (default "+systemData+" where it exists, else ./"+nearData+")")
	cmd.Flags().BoolVar(&repair, "repair", false, "set a store that is not sound aside, and go on with what can be read of it")
	cmd.Flags().StringVar(&head, "head", "", "head of the logbook's chain that you kept")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error {
		file := filepath.Join(dataFolder(data), store.FileName)
		if len(args) > 0 {
			if data != "" || repair {
				return usage("%q is a backup: --data and --repair are for a store", args[0])
			}
			file = args[0]
		}
		return verify(cmd, file, head, repair)
	})
	return cmd
}

func verify(cmd *cobra.Command, file, head string, repair bool) error {
	if _, err := journal.ParseHash(head); head != "" && err != nil {
		return usage("--head: %w", err)
	}
	v, err := store.Verify(file)
	var damage error
	switch {
	case store.IsDamage(err):
		fmt.Fprintln(cmd.OutOrStdout(), err)
		damage = err
	case err != nil:
		return err
	default:
		for _, b := range v.Breaches {
			fmt.Fprintln(cmd.OutOrStdout(), b)
		}
		damage = v.Sound(file)
		fmt.Fprintf(cmd.OutOrStdout(), "%s holds %s (%s), format %d: %s\n", file, holds(v.Tally), sizeOf(file), v.Format, soundness(v))
	}
	if damage != nil && repair {
		return repairStore(cmd, filepath.Dir(file), damage)
	}
	if damage != nil || !chained(cmd, &v, head) {
		return notFine()
	}
	return nil
}

// chained tells of the logbook's chain, and whether it still holds the heads that were sent and the one that was kept.
func chained(cmd *cobra.Command, v *store.Verified, kept string) bool {
	out := cmd.OutOrStdout()
	if n := len(v.Entries); n > 0 {
		fmt.Fprintf(out, "the logbook has %s; the head of their chain is %s\n", count(n, "entry", "entries"), journal.Head(v.Entries))
	}
	sound := true
	for _, s := range append(v.Sent, kept) {
		h, err := journal.ParseHash(s)
		if s == "" || err != nil { // the one that was kept has been looked at
			continue
		}
		n, ok := journal.Holds(v.Entries, h)
		switch {
		case !ok:
			sound = false
			fmt.Fprintf(out, "the logbook's chain does not hold the head %s: an entry was changed, taken out or put in between since that was sent, or it is of another logbook\n", h)
		case s == kept:
			fmt.Fprintf(out, "the head that you kept stands for the entries up to %d: none of them was changed since\n", n)
		}
	}
	return sound
}

func soundness(v store.Verified) string {
	if n := len(v.Breaches); n > 0 {
		return count(n, "place is", "places are") + " not sound"
	}
	return "sound"
}

func repairStore(cmd *cobra.Command, dir string, damage error) (err error) {
	st, err := store.Open(dir, store.Options{}) // which may repair it by itself
	if err != nil {
		return err
	}
	defer closeInto(&err, st, "store")
	told := st.Notices()
	if len(told) == 0 || !told[0].Damaged {
		n, err := st.Repair(damage)
		if err != nil {
			return err
		}
		told = []store.Notice{n}
	}
	fmt.Fprintln(cmd.OutOrStdout(), told[0].Text)
	return nil
}
