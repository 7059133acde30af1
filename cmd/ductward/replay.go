package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// replayFlags is what the command line asks of a replay.
type replayFlags struct {
	journal      string
	json, strict bool
}

func newReplay() *cobra.Command {
	var f replayFlags
	cmd := &cobra.Command{
		Use:   "replay SITE READINGS.csv",
		Short: "Make the watch's estimate, findings and alarms from a file of readings",
		Long: `Folds a file of readings, and a logbook if there is one, exactly as the watch does,
as fast as the machine can, and tells the baseline, each day's estimate, the
findings and the alarms with their times.

The file is the CSV that "ductward export" writes; "-" reads standard input. Rows
need not be sorted; doubles are told and dropped. With --strict the exit code is 1 if
any alarm was raised.`,
		Example: `  ductward replay shop.yaml march.csv
  ductward replay shop.yaml march.csv --journal logbook.csv --json > march.json
  ductward export --data /var/lib/ductward | ductward replay shop.yaml - --strict`,
		Args: cobra.ExactArgs(2),
	}
	cmd.Flags().StringVar(&f.journal, "journal", "", "CSV of what people did, as \"ductward export --journal\" writes it")
	cmd.Flags().BoolVar(&f.json, "json", false, "write one JSON object")
	cmd.Flags().BoolVar(&f.strict, "strict", false, "exit with 1 if an alarm was raised")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error { return replay(cmd, args[0], args[1], f) })
	return cmd
}

func replay(cmd *cobra.Command, site, file string, f replayFlags) error {
	s, err := loadShop(cmd.ErrOrStderr(), site)
	if err != nil {
		return err
	}
	readings, err := readReadings(cmd, s, file)
	if err != nil {
		return err
	}
	entries, err := readJournal(f.journal)
	if err != nil {
		return err
	}
	bar := newProgress(cmd.ErrOrStderr(), "folding", int64(len(readings)))
	o, err := fold(cmd.Context(), s, readings, entries, func(done int) { bar.set(int64(done)) })
	bar.finish()
	if err != nil {
		return err
	}
	if f.json {
		err = writeReplayJSON(cmd.OutOrStdout(), o)
	} else {
		err = writeReplayTable(cmd.OutOrStdout(), o)
	}
	if err == nil && f.strict && o.alarmed() {
		return notFine()
	}
	return err
}

// readReadings reads and sorts a file of readings, and tells of doubles and of channels that the shop does not have.
func readReadings(cmd *cobra.Command, s *shop.Shop, file string) ([]reading.Reading, error) {
	in, total, err := openInput(cmd.InOrStdin(), file)
	if err != nil {
		return nil, err
	}
	defer in.Close() // read only: nothing is lost by a failed close
	bar := newProgress(cmd.ErrOrStderr(), "reading", total)
	readings, doubles, err := reading.ReadAll(bar.reader(in), file, unitsOf(s))
	bar.finish()
	if err != nil {
		return nil, err
	}
	if doubles > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s dropped\n", file, count(doubles, "double", "doubles"))
	}
	tellStrangers(cmd.ErrOrStderr(), s, file, readings)
	return readings, nil
}

// tellStrangers names the switches in a file that the shop does not have. They are passed over: a sensor of that kind
// is a mistake, since its unit cannot be judged.
func tellStrangers(w io.Writer, s *shop.Shop, file string, readings []reading.Reading) {
	known := knownChannels(s)
	for i := range readings {
		if c := readings[i].Channel; !known[c] {
			known[c] = true // once is enough
			fmt.Fprintf(w, "%s: the shop has no channel %q: its readings are passed over\n", file, c)
		}
	}
}

// openInput opens a file, or takes standard input for "-". The size is 0 where it is not known.
func openInput(stdin io.Reader, file string) (io.ReadCloser, int64, error) {
	if file == "-" {
		return io.NopCloser(stdin), 0, nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, 0, err
	}
	return f, size(f), nil
}

// readJournal reads a logbook; no name is no entries.
func readJournal(file string) ([]journal.Entry, error) {
	if file == "" {
		return nil, nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close() // read only: nothing is lost by a failed close
	return journal.ReadCSV(f, file)
}
