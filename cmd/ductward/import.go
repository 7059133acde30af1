package main

import (
	"context"
	"fmt"
	"io"
	"iter"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/store"
)

func newImport() *cobra.Command {
	var data, logbook string
	cmd := &cobra.Command{
		Use:   "import SITE READINGS.csv --data DIR",
		Short: "Take readings, and a logbook, from CSV into a store",
		Long: `Takes readings from the CSV that "ductward export" writes into a store, which is made
if it is not there. Importing the same file again adds nothing. "-" reads standard
input.

Into a store that holds no estimate yet the readings are folded into steady runs as
well, so that "ductward run" goes on from them. To one that does they add history alone,
and the command says so: import into a fresh folder to have the estimate made of them.

The store must not be in use: stop "ductward run" first.`,
		Example: `  ductward import shop.yaml readings.csv --data restored
  ductward import shop.yaml readings.csv --journal logbook.csv --data restored`,
		Args: cobra.ExactArgs(2),
	}
	cmd.Flags().StringVar(&data, "data", "", "folder of the store (default "+systemData+" where it exists, else ./"+nearData+")")
	cmd.Flags().StringVar(&logbook, "journal", "", "CSV of what people did, to be taken in as well")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error {
		return importFiles(cmd, args[0], args[1], logbook, dataFolder(data))
	})
	return cmd
}

func importFiles(cmd *cobra.Command, site, file, logbook, dir string) (err error) {
	s, err := loadShop(cmd.ErrOrStderr(), site)
	if err != nil {
		return err
	}
	entries, err := readJournal(logbook)
	if err != nil {
		return err
	}
	in, total, err := openInput(cmd.InOrStdin(), file)
	if err != nil {
		return err
	}
	defer in.Close() // read only: nothing is lost by a failed close
	bar := newProgress(cmd.ErrOrStderr(), "importing", total)
	defer bar.finish()
	rows, doubles, err := orderly(reading.ReadCSV(bar.reader(in), file, unitsOf(s)))
	if err != nil {
		return err
	}
	st, err := store.Open(dir, store.Options{})
	if err != nil {
		return err
	}
	defer closeInto(&err, st, "store")
	took, err := st.Import(cmd.Context(), rows)
	if err != nil {
		return err
	}
	bar.finish()
	took.Doubles += doubles
	return finishImport(cmd, st, s, file, took, entries)
}

// orderly gives the rows of a file as the store takes them. Rows with a boot carry their place and are passed on as they
// come. Rows without one have nothing but their time: they are read whole, sorted, and freed of doubles, which it
// counts. The error is that of the first row, or of any where all are read.
func orderly(rows iter.Seq2[reading.Reading, error]) (iter.Seq2[reading.Reading, error], int, error) {
	next, stop := iter.Pull2(rows)
	first, err, ok := next()
	if err != nil {
		stop()
		return nil, 0, err
	}
	if ok && first.Boot != 0 {
		return passOn(first, next, stop), 0, nil
	}
	defer stop()
	var all []reading.Reading
	for r := first; ok; r, err, ok = next() {
		if err != nil {
			return nil, 0, err
		}
		all = append(all, r)
	}
	all, doubles := reading.Sort(all)
	return func(yield func(reading.Reading, error) bool) {
		for _, r := range all {
			if !yield(r, nil) {
				return
			}
		}
	}, doubles, nil
}

// passOn gives a first row and then what follows it.
func passOn(first reading.Reading, next func() (reading.Reading, error, bool), stop func()) iter.Seq2[reading.Reading, error] {
	return func(yield func(reading.Reading, error) bool) {
		defer stop()
		r, err, ok := first, error(nil), true
		for ok && yield(r, err) {
			r, err, ok = next()
		}
	}
}

// finishImport makes of what was taken in what a store holds beside readings, and tells how it went.
func finishImport(cmd *cobra.Command, st *store.Store, s *shop.Shop, file string, took store.ImportResult, entries []journal.Entry) error {
	out := cmd.OutOrStdout()
	fmt.Fprintf(out, "%s: %s taken in, %s dropped, %d refused\n", file, count(took.Readings, "reading", "readings"),
		count(took.Doubles, "double", "doubles"), took.Refused)
	if err := st.PutShop(s.Raw, firstTime(st)); err != nil {
		return err
	}
	added, err := addEntries(st, entries)
	if err != nil {
		return err
	}
	if len(entries) > 0 {
		fmt.Fprintf(out, "%s added\n", count(added, "journal entry", "journal entries"))
	}
	if err := foldImported(cmd.Context(), st, s, out); err != nil {
		return err
	}
	if took.Refused > 0 {
		return fmt.Errorf("%s: %s could not be stored, the first: %w", file, count(took.Refused, "reading", "readings"), took.FirstRefusal)
	}
	return nil
}

// firstTime returns when the oldest boot of a store began; the zero time where none is placed.
func firstTime(st *store.Store) time.Time {
	var first time.Time
	for _, b := range st.Boots() {
		if !b.Zero.IsZero() && (first.IsZero() || b.Zero.Before(first)) {
			first = b.Zero
		}
	}
	return first
}

// addEntries adds the entries that the store does not hold yet.
func addEntries(st *store.Store, entries []journal.Entry) (added int, err error) {
	held, err := st.Journal()
	if err != nil {
		return 0, err
	}
	same := func(a, b journal.Entry) bool {
		return a.Time.Equal(b.Time) && a.Kind == b.Kind && a.Subject == b.Subject && a.Note == b.Note && a.By == b.By
	}
	for _, e := range entries {
		if slices.ContainsFunc(held, func(h journal.Entry) bool { return same(h, e) }) {
			continue
		}
		if _, err := st.AddJournal(e); err != nil {
			return added, err
		}
		held = append(held, e)
		added++
	}
	return added, nil
}

// foldImported folds the readings of a store that has no runs into runs.
func foldImported(ctx context.Context, st *store.Store, s *shop.Shop, out io.Writer) error {
	var folders []*steady.Folder
	for _, c := range s.Collectors {
		for range st.Runs(c.Name) {
			fmt.Fprintln(out, "the store has runs of its own: the readings are kept as history, and no estimate is made of them")
			return nil
		}
		folders = append(folders, steady.NewFolder(c))
	}
	made := 0
	keep := func(runs []steady.Run) error {
		made += len(runs)
		return st.AppendRuns(runs)
	}
	for r, err := range st.Readings(ctx, store.ReadQuery{}) {
		if err != nil {
			return err
		}
		for _, f := range folders {
			if err := keep(f.Add(&r)); err != nil {
				return err
			}
		}
	}
	for _, f := range folders {
		if err := keep(f.Flush()); err != nil {
			return err
		}
	}
	fmt.Fprintf(out, "%s made of them\n", count(made, "steady run", "steady runs"))
	return st.Commit()
}
