package main

import (
	"bufio"
	_ "embed"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"ductward/internal/reading"
	"ductward/internal/store"
)

//go:embed export_readme.md
var exportReadme string

// leaving is an export of everything on its way into a folder.
type leaving struct {
	cmd     *cobra.Command
	st      *store.Store
	dir     string
	unit    func(channel string) string
	damaged int
}

// recordFiles are the files that hold the records of a bucket, one a line.
var recordFiles = []struct{ bucket, file string }{
	{"boots", "boots.jsonl"}, {"runs", "runs.jsonl"}, {"journal", "journal.jsonl"}, {"findings", "findings.jsonl"},
	{"alarms", "alarms.jsonl"}, {"baselines", "baselines.jsonl"}, {"outbox", "letters.jsonl"},
}

// exportAll writes everything that a store holds into a folder that is new or empty.
func exportAll(cmd *cobra.Command, st *store.Store, dir string) error {
	shops, err := storedShops(st)
	if err != nil {
		return err
	}
	if err := emptyFolder(dir); err != nil {
		return err
	}
	l := &leaving{cmd: cmd, st: st, dir: dir, unit: siUnits(shops)}
	steps := []func() error{
		func() error {
			return l.file("README.md", func(w io.Writer) error { _, err := io.WriteString(w, exportReadme); return err })
		},
		l.readings, l.logbook, l.channels, l.shops,
	}
	for _, level := range []string{"minutes", "hours", "days"} {
		steps = append(steps, func() error { return l.rollUps(level) })
	}
	for _, f := range recordFiles {
		steps = append(steps, func() error { return l.records(f.bucket, f.file) })
	}
	for _, bucket := range []string{"damaged", "meta"} {
		steps = append(steps, func() error { return l.raw(bucket) })
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	if l.damaged > 0 {
		return fmt.Errorf("%s of the store could not be read: what else there is was written", count(l.damaged, "part", "parts"))
	}
	return nil
}

// emptyFolder makes a folder, or takes one that has nothing in it.
func emptyFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	held, err := os.ReadDir(dir)
	if err == nil && len(held) > 0 {
		return usage("--all %q: the folder is not empty: name a new one", dir)
	}
	return err
}

// file writes one file, readable by its owner alone: names of people are in it.
func (l *leaving) file(name string, write func(io.Writer) error) (err error) {
	f, err := os.OpenFile(filepath.Join(l.dir, name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer closeInto(&err, f, name)
	w := bufio.NewWriter(f)
	if err := write(w); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Sync()
}

// spare tells whether an error is damage that the rest can do without, and tells of it.
func (l *leaving) spare(err error) bool {
	var damage *store.DamageError
	if !errors.As(err, &damage) {
		return false
	}
	l.damaged++
	fmt.Fprintf(l.cmd.ErrOrStderr(), "left out: %v\n", err)
	return true
}

func (l *leaving) readings() error {
	return l.file("readings.csv", func(w io.Writer) error {
		return reading.WriteCSV(w, skipDamage(watched(l.cmd, l.st, store.ReadQuery{}), l.cmd.ErrOrStderr(), &l.damaged), l.unit)
	})
}

func (l *leaving) logbook() error {
	return l.file("logbook.csv", func(w io.Writer) error {
		err := exportJournal(w, l.st, store.ReadQuery{})
		if l.spare(err) {
			return nil
		}
		return err
	})
}

// lines writes objects, one a line.
func (l *leaving) lines(name string, each iter.Seq2[any, error]) error {
	return l.file(name, func(w io.Writer) error {
		out := json.NewEncoder(w)
		for v, err := range each {
			if err == nil {
				err = out.Encode(v)
			}
			if err != nil && !l.spare(err) {
				return err
			}
		}
		return nil
	})
}

// recordLine is one record with what its key says of it.
type recordLine struct {
	Collector string          `json:"collector,omitempty"`
	Number    uint64          `json:"number,omitempty"`
	Record    json.RawMessage `json:"record"`
}

func (l *leaving) records(bucket, file string) error {
	return l.lines(file, func(yield func(any, error) bool) {
		for r, err := range l.st.Records(bucket) {
			if bucket == "baselines" && err == nil {
				r.JSON, err = baselineJSONOf(r.JSON)
			}
			if !yield(recordLine{r.Collector, r.Number, r.JSON}, err) {
				return
			}
		}
	})
}

// baselineJSONOf takes a baseline out of its wrapping, in which it is base64.
func baselineJSONOf(record json.RawMessage) (json.RawMessage, error) {
	var b store.Baseline
	err := json.Unmarshal(record, &b)
	if err != nil || !json.Valid(b.Blob) {
		return record, err
	}
	return b.Blob, nil
}

func (l *leaving) channels() error {
	names, err := l.st.Channels()
	if err != nil {
		return err
	}
	return l.lines("channels.jsonl", func(yield func(any, error) bool) {
		for _, n := range slices.Sorted(maps.Keys(names)) {
			line := struct {
				Number  uint32 `json:"number"`
				Channel string `json:"channel"`
				Unit    string `json:"unit"`
			}{n, names[n], l.unit(names[n])}
			if !yield(line, nil) {
				return
			}
		}
	})
}

func (l *leaving) shops() error {
	shops, err := l.st.Shops()
	if err != nil && !l.spare(err) {
		return err
	}
	type line struct {
		Number int       `json:"number"`
		From   time.Time `json:"from,omitzero"`
		File   string    `json:"file"`
	}
	var list []any
	for i, s := range shops {
		name := fmt.Sprintf("shop-%04d.yaml", i+1)
		if err := l.file(name, func(w io.Writer) error { _, err := w.Write(s.Raw); return err }); err != nil {
			return err
		}
		list = append(list, line{i + 1, s.From, name})
	}
	return l.lines("shops.jsonl", func(yield func(any, error) bool) {
		for _, x := range list {
			if !yield(x, nil) {
				return
			}
		}
	})
}

func (l *leaving) rollUps(level string) error {
	return l.file(level+".csv", func(w io.Writer) error {
		out := csv.NewWriter(w)
		out.UseCRLF = true
		number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
		if err := out.Write([]string{"time", "channel", "boot", "mono_s", "n", "min", "mean", "max", "unit"}); err != nil {
			return err
		}
		for r, err := range l.st.RollUps(level) {
			if err != nil {
				if l.spare(err) {
					continue
				}
				return err
			}
			at := ""
			if !r.Time.IsZero() {
				at = r.Time.UTC().Format(time.RFC3339Nano)
			}
			row := []string{at, r.Channel, strconv.FormatUint(uint64(r.Boot), 10), number(r.Mono.Seconds()), strconv.FormatInt(r.N, 10),
				number(r.Min), number(r.Mean), number(r.Max), l.unit(r.Channel)}
			if err := out.Write(row); err != nil {
				return err
			}
		}
		out.Flush()
		return out.Error()
	})
}

// raw writes the keys of a bucket as they are, in hexadecimal.
func (l *leaving) raw(bucket string) error {
	return l.lines(bucket+".jsonl", func(yield func(any, error) bool) {
		for kv, err := range l.st.Keys(bucket) {
			line := struct {
				Key   string `json:"key"`
				Value string `json:"value"`
			}{hex.EncodeToString(kv.Key), hex.EncodeToString(kv.Value)}
			if !yield(line, err) {
				return
			}
		}
	})
}
