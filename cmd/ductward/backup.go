package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"ductward/daemon"
	"ductward/internal/store"
)

func newBackup() *cobra.Command {
	var data string
	var replace bool
	cmd := &cobra.Command{
		Use:   "backup FILE --data DIR",
		Short: "Copy the store to a file, while the watch goes on",
		Long: `Copies all that a store holds to one file: readings, means, runs, logbook, findings,
alarms, baselines and shop files. "ductward run" goes on meanwhile; it hands the copy
out over a socket in its data folder, to the user who runs it and to nobody else.

The file is written under another name, read back, checked and counted, and only then
called FILE. "-" writes to standard output: that cannot be read back, so run
"ductward verify" on what became of it.`,
		Example: `  ductward backup /media/stick/ductward-2026-03-14.db --data /var/lib/ductward
  ductward backup /media/stick/ductward.db --replace
  ductward backup - | ssh office 'cat > ductward.db'`,
		Args: cobra.ExactArgs(1),
	}
	cmd.Flags().StringVar(&data, "data", "", "folder of the store (default "+systemData+" where it exists, else ./"+nearData+")")
	cmd.Flags().BoolVar(&replace, "replace", false, "put it in the place of an older FILE, once it has been checked")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error {
		return backUp(cmd, args[0], dataFolder(data), replace)
	})
	return cmd
}

func backUp(cmd *cobra.Command, file, dir string, replace bool) error {
	from := func(w io.Writer) (store.Tally, error) { return daemon.CopyOf(cmd.Context(), dir, w) }
	if file == "-" {
		held, err := from(cmd.OutOrStdout())
		if err == nil {
			fmt.Fprintf(cmd.ErrOrStderr(), "copied, not checked: %s\n", holds(held))
		}
		return err
	}
	held, err := store.BackupTo(file, replace, from)
	if err != nil {
		return inTheWay(err, "--replace puts the new backup in its place, or choose another name")
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s holds %s (%s); checked\n", file, holds(held), sizeOf(file))
	return nil
}

// holds says what a store holds.
func holds(t store.Tally) string {
	return count(int(t.Readings), "reading", "readings") + " and " +
		count(int(t.Journal()), "logbook entry", "logbook entries")
}

func sizeOf(file string) string {
	info, err := os.Stat(file)
	if err != nil {
		return "size unknown"
	}
	return fmt.Sprintf("%.1f MB", float64(info.Size())/1e6)
}
