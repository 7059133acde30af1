package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"time"

	"github.com/spf13/cobra"

	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/store"
)

// exportFlags is what the command line asks of an export.
type exportFlags struct {
	data, from, to string
	all            string
	channels       []string
	journal        bool
}

func newExport() *cobra.Command {
	var f exportFlags
	cmd := &cobra.Command{
		Use:   "export --data DIR",
		Short: "Write stored readings, the logbook, or everything, as files for others",
		Long: `Writes the readings of a store as CSV to standard output, in stored order, with all
that is known of each, so that "ductward import" loses nothing and "ductward replay"
makes the same estimate. With --journal it writes the logbook instead. With --all it
writes everything that the store holds into a new folder, as CSV and JSON files: readings
and their roll-ups, logbook, findings, alarms, letters, baselines, shop files, and a
README.md that says what is in each.

The store must not be in use: stop "ductward run" first.`,
		Example: `  ductward export --data /var/lib/ductward > readings.csv
  ductward export --data data --from 2026-03-01 --to 2026-04-01 --channel "main/trunk static"
  ductward export --data data --journal > logbook.csv
  ductward export --data data --all /media/stick/dust-2026`,
		Args: cobra.NoArgs,
	}
	fl := cmd.Flags()
	fl.StringVar(&f.data, "data", "", "folder of the store (default "+systemData+" where it exists, else ./"+nearData+")")
	fl.StringVar(&f.from, "from", "", "first moment, as 2026-03-01 or 2026-03-01T07:00:00+01:00")
	fl.StringVar(&f.to, "to", "", "moment before which to end, likewise")
	fl.StringArrayVar(&f.channels, "channel", nil, "only this channel; may be repeated")
	fl.BoolVar(&f.journal, "journal", false, "write the logbook")
	fl.StringVar(&f.all, "all", "", "new folder into which to write everything that the store holds")
	cmd.MarkFlagsMutuallyExclusive("all", "journal")
	cmd.MarkFlagsMutuallyExclusive("all", "channel")
	cmd.MarkFlagsMutuallyExclusive("all", "from")
	cmd.MarkFlagsMutuallyExclusive("all", "to")
	cmd.RunE = work(func(cmd *cobra.Command, _ []string) error { return export(cmd, f) })
	return cmd
}

func export(cmd *cobra.Command, f exportFlags) (err error) {
	st, err := openStore(dataFolder(f.data), cmd.ErrOrStderr())
	if err != nil {
		return err
	}
	defer closeInto(&err, st, "store")
	if f.all != "" {
		return exportAll(cmd, st, f.all)
	}
	shops, err := storedShops(st)
	if err != nil {
		return err
	}
	q := store.ReadQuery{Channels: f.channels}
	if q.From, err = parseMoment("--from", f.from, shops); err != nil {
		return err
	}
	if q.To, err = parseMoment("--to", f.to, shops); err != nil {
		return err
	}
	if f.journal {
		return exportJournal(cmd.OutOrStdout(), st, q)
	}
	if err := knownTo(st, f.channels); err != nil {
		return err
	}
	damaged := 0
	rs := skipDamage(watched(cmd, st, q), cmd.ErrOrStderr(), &damaged)
	if err := reading.WriteCSV(cmd.OutOrStdout(), rs, siUnits(shops)); err != nil {
		return err
	}
	if damaged > 0 {
		return fmt.Errorf("%s of the store could not be read: what else there is was written", count(damaged, "block", "blocks"))
	}
	return nil
}

// watched gives the readings of a query with a bar that follows them through their time.
func watched(cmd *cobra.Command, st *store.Store, q store.ReadQuery) iter.Seq2[reading.Reading, error] {
	return func(yield func(reading.Reading, error) bool) {
		var bar *progress
		var first time.Time
		n := 0
		for r, err := range st.Readings(cmd.Context(), q) {
			if n%1024 == 0 && !r.Time.IsZero() {
				if bar == nil {
					first = r.Time
					bar = newProgress(cmd.ErrOrStderr(), "exporting", int64(lastOf(st, q).Sub(first)))
				}
				bar.set(int64(r.Time.Sub(first)))
			}
			n++
			if !yield(r, err) {
				break
			}
		}
		if bar != nil {
			bar.finish()
		}
	}
}

// lastOf returns the time of the last reading that a query can give.
func lastOf(st *store.Store, q store.ReadQuery) time.Time {
	var last time.Time
	for _, r := range st.Latest() {
		if r.Time.After(last) {
			last = r.Time
		}
	}
	if !q.To.IsZero() && q.To.Before(last) {
		return q.To
	}
	return last
}

// skipDamage tells of blocks that cannot be read, counts them, and goes on with the rest.
func skipDamage(rs iter.Seq2[reading.Reading, error], tell io.Writer, damaged *int) iter.Seq2[reading.Reading, error] {
	return func(yield func(reading.Reading, error) bool) {
		for r, err := range rs {
			var damage *store.DamageError
			if errors.As(err, &damage) {
				*damaged++
				fmt.Fprintf(tell, "left out: %v\n", err)
				continue
			}
			if !yield(r, err) || errors.Is(err, context.Canceled) {
				return
			}
		}
	}
}

// exportJournal writes the entries of the logbook within the bounds of a query.
func exportJournal(w io.Writer, st *store.Store, q store.ReadQuery) error {
	all, err := st.Journal()
	if err != nil {
		return err
	}
	var within []journal.Entry
	var numbers []uint64
	for i, e := range all {
		if !e.Time.Before(q.From) && (q.To.IsZero() || e.Time.Before(q.To)) {
			within, numbers = append(within, e), append(numbers, uint64(i+1))
		}
	}
	return journal.WriteCSV(w, within, numbers)
}
