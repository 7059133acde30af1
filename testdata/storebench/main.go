// Command storebench measures the store against its bars, and plain alternatives beside it in the same run: an SQL
// engine with batched inserts, with and without roll-up tables of its own, and bbolt with a transaction a reading.
//
// It is a module of its own, so that the product does not depend on the alternatives. README.md says how to run it.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"strings"
	"time"
)

// bench is one run.
type bench struct {
	work  string // folder of its own
	days  int    // of the record by day and night
	years int    // of the record of working days
	aged  []int  // ages in days of the copies of the long record
	rows  []row
}

// row is one line of the table.
type row struct {
	bar, demand, measured string
	met                   bool
}

// bar reports what was measured; met is nil where nothing is demanded.
func (b *bench) bar(name, demand string, met bool, format string, args ...any) {
	r := row{name, demand, fmt.Sprintf(format, args...), met}
	b.rows = append(b.rows, r)
	fmt.Fprintf(os.Stderr, "  %s: %s (%s)%s\n", r.bar, r.measured, r.demand, map[bool]string{false: " MISSED"}[met])
}

// beside reports a figure of which nothing is demanded.
func (b *bench) beside(name, format string, args ...any) { b.bar(name, "", true, format, args...) }

type section struct {
	name string
	run  func(*bench) error
}

// sections in the order of their running: later ones use the records of earlier ones.
var sections = []section{
	{"record", (*bench).record}, {"wear", (*bench).wear}, {"charts", (*bench).charts}, {"ingest", (*bench).ingest},
	{"years", (*bench).twoYears}, {"crash", (*bench).crash}, {"memory", (*bench).memory}, {"prune", (*bench).prune},
}

func main() {
	if len(os.Args) > 1 && strings.HasPrefix(os.Args[1], "child-") {
		if err := child(os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	dir := flag.String("dir", "", "a folder with 8 GB free; a temporary one by default")
	only := flag.String("only", "", "sections to run, separated by commas; all by default")
	days := flag.Int("days", 30, "days and nights of the record that is compared with the SQL engine")
	years := flag.Int("years", 2, "years of working days of the long record")
	flag.Parse()
	if err := runAll(*dir, *only, *days, *years); err != nil {
		fmt.Fprintln(os.Stderr, "storebench:", err)
		os.Exit(1)
	}
}

func runAll(dir, only string, days, years int) error {
	if days < 30 || years < 1 {
		return fmt.Errorf("%d days and %d years: want 30 days or more, the longest chart, and a year or more", days, years)
	}
	work, err := os.MkdirTemp(dir, "storebench-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(work) }() // a folder of this run alone
	b := &bench{work: work, days: days, years: years}
	for _, s := range sections {
		if only != "" && !strings.Contains(","+only+",", ","+s.name+",") {
			continue
		}
		start := time.Now()
		fmt.Fprintln(os.Stderr, s.name)
		if err := s.run(b); err != nil {
			return fmt.Errorf("%s: %w", s.name, err)
		}
		fmt.Fprintf(os.Stderr, "  (%v)\n", time.Since(start).Round(time.Second))
	}
	b.print()
	return nil
}

func (b *bench) print() {
	fmt.Printf("%s, %s/%s, %d processors\n\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	fmt.Println("| bar | demand | measured | met |")
	fmt.Println("|---|---|---|---|")
	for _, r := range b.rows {
		met := "yes"
		if r.demand == "" {
			met = ""
		} else if !r.met {
			met = "**no**"
		}
		fmt.Printf("| %s | %s | %s | %s |\n", r.bar, r.demand, r.measured, met)
	}
}
