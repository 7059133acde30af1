package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"ductward/internal/store"
)

func newRestore() *cobra.Command {
	var data string
	var replace bool
	cmd := &cobra.Command{
		Use:   "restore BACKUP --data DIR",
		Short: "Make a backup the store",
		Long: `Makes a backup the store of a data folder. The backup is checked first, and its copy
in the folder again before it becomes the store: a power cut leaves what was there, or
the whole of what is restored.

A store that is there already stays, unless --replace is given: it is then set aside
under another name. It must not be in use: stop "ductward run" first.`,
		Example: `  ductward restore /media/stick/ductward-2026-03-14.db --data /var/lib/ductward
  ductward restore ductward.db --data data --replace`,
		Args: cobra.ExactArgs(1),
	}
	cmd.Flags().StringVar(&data, "data", "", "folder of the store (default "+systemData+" where it exists, else ./"+nearData+")")
	cmd.Flags().BoolVar(&replace, "replace", false, "set the store that is there aside")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error {
		dir := dataFolder(data)
		r, err := store.Restore(cmd.Context(), args[0], dir, replace)
		if err != nil {
			return inTheWay(err, "--replace sets it aside, or name another folder with --data")
		}
		if r.SetAside != "" {
			fmt.Fprintf(cmd.OutOrStdout(), "the store that was there is now %s\n", r.SetAside)
		}
		fmt.Fprintf(cmd.OutOrStdout(), "restored in %s: %s; checked\n", dir, holds(r.Tally))
		return nil
	})
	return cmd
}

// inTheWay makes wrong use of an error that says that something is there already, or may not be written on, and says
// what to do.
func inTheWay(err error, instead string) error {
	if errors.Is(err, store.ErrExists) {
		return usage("%w: %s", err, instead)
	}
	if errors.Is(err, store.ErrNoPlace) {
		return usage("%w", err)
	}
	return err
}
