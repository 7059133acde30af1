package journal

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// header names the columns of the CSV, in the order in which they are written.
var header = []string{"time", "kind", "subject", "note", "by", "number", "corrects", "result", "action", "alarm", "event"}

// given are how many of those columns a file needs at most to be of use: what only this program knows comes behind.
const given = 5

// mostMistakes is how many mistakes of a file are named at once.
const mostMistakes = 20

// ReadCSV reads entries; name is what errors call the file. The header says where the columns are: time and kind must
// be there, others are passed over. The entries are sorted by time. The error names every mistake, or the first 20; then
// no entries are returned. An entry that another in the file corrects is left out.
func ReadCSV(r io.Reader, name string) ([]Entry, error) {
	in := csv.NewReader(r)
	in.FieldsPerRecord = -1
	names, err := in.Read()
	if errors.Is(err, io.EOF) {
		err = fmt.Errorf("the file is empty: write the header %q and a row for each entry", strings.Join(header[:given], ","))
	}
	if err != nil {
		return nil, atLine(name, 1, err)
	}
	at, err := columnsOf(names)
	if err != nil {
		return nil, atLine(name, 1, err)
	}
	var out []Entry
	var numbers []string
	corrected := map[string]bool{}
	var errs []error
	for {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, errors.Join(append(errs, atLine(name, 0, err))...)
		}
		line, _ := in.FieldPos(0)
		e, err := parseRow(row, at, len(names))
		if err != nil {
			errs = append(errs, atLine(name, line, err))
			if len(errs) == mostMistakes {
				break
			}
			continue
		}
		out = append(out, e)
		number, corrects := optional(row, at[5]), optional(row, at[6])
		numbers = append(numbers, number) // "" corrects nothing
		if corrects != "" {
			corrected[corrects] = true
		}
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	out = inForce(out, numbers, corrected)
	slices.SortStableFunc(out, func(a, b Entry) int { return a.Time.Compare(b.Time) })
	return out, nil
}

func atLine(name string, line int, err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		line, err = parse.Line, parse.Err
	}
	if line == 0 {
		return fmt.Errorf("%s: %w", name, err)
	}
	return fmt.Errorf("%s:%d: %w", name, line, err)
}

// columnsOf returns the index of each column of header, −1 where it is not there.
func columnsOf(names []string) (at []int, err error) {
	at = make([]int, len(header))
	for i, want := range header {
		at[i] = slices.IndexFunc(names, func(s string) bool {
			return strings.TrimSpace(strings.TrimPrefix(s, "\ufeff")) == want
		})
	}
	for i := range 2 {
		if at[i] < 0 {
			return nil, fmt.Errorf("the header has no column %q: write %q", header[i], strings.Join(header[:given], ","))
		}
	}
	return at, nil
}

// optional is a field that may not be there.
func optional(row []string, at int) string {
	if at < 0 {
		return ""
	}
	return strings.TrimSpace(row[at])
}

// inForce leaves out what a correction in the same file stands for.
func inForce(entries []Entry, numbers []string, corrected map[string]bool) []Entry {
	kept := entries[:0]
	for i, e := range entries {
		if !corrected[numbers[i]] {
			kept = append(kept, e)
		}
	}
	return kept
}

func parseRow(row []string, at []int, width int) (e Entry, err error) {
	if len(row) != width {
		return e, fmt.Errorf("the row has %d fields and the header %d: quote a note with a comma in it", len(row), width)
	}
	field := func(i int) string {
		if at[i] < 0 {
			return ""
		}
		return strings.TrimSpace(row[at[i]])
	}
	if e.Time, err = time.Parse(time.RFC3339Nano, field(0)); err != nil {
		return e, fmt.Errorf("time %q cannot be read: write it with its offset, as in 2026-03-01T08:00:00+01:00", field(0))
	}
	if y := e.Time.UTC().Year(); y < 1 || y > 9999 {
		return e, fmt.Errorf("time %q lies outside the years 1 to 9999 by UTC: write when it was", field(0))
	}
	e.Kind, e.Subject, e.Note, e.By = Kind(field(1)), field(2), field(3), field(4)
	e.Result, e.Action, e.Alarm, e.Event = Result(field(7)), field(8), field(9), field(10)
	if e.Result != "" && !slices.Contains(Results, e.Result) {
		return e, fmt.Errorf("result %q is not known: write one of %q", e.Result, Results)
	}
	if e.Kind.Own() && (e.Kind != Alarm || e.Alarm != "") {
		return e, nil
	}
	return e, e.Check()
}

// Check tells whether k is a kind that there is.
func (k Kind) Check() error {
	if slices.Contains(Kinds, k) {
		return nil
	}
	words := make([]string, len(Kinds))
	for i, kind := range Kinds {
		words[i] = string(kind)
	}
	return fmt.Errorf("kind %q is not known: write one of %s", string(k), strings.Join(words, ", "))
}

// WriteCSV writes entries as the CSV that ReadCSV reads. Numbers are those of the entries in the logbook, by which
// corrections name them; nil leaves them out.
func WriteCSV(w io.Writer, entries []Entry, numbers []uint64) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true // RFC 4180
	rows := [][]string{header}
	for i, e := range entries {
		number := ""
		if numbers != nil {
			number = plainNumber(numbers[i])
		}
		rows = append(rows, []string{e.Time.UTC().Format(time.RFC3339Nano), string(e.Kind), e.Subject, e.Note, e.By,
			number, plainNumber(e.Corrects), string(e.Result), e.Action, e.Alarm, e.Event})
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("write the journal: %w", err)
	}
	return nil
}
