package trial

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
)

// Result is what one replicate yielded.
type Result struct {
	Setting
	Seed    uint64  `json:"seed"`
	Seconds float64 `json:"seconds"` // of one core, about
	Metrics Metrics `json:"metrics"`
}

// job is one replicate to be run.
type job struct {
	Setting
	seed uint64
}

// Ask is what of the trials to run.
type Ask struct {
	Rows     []string // ids; all when empty
	Sets     []string // all when empty
	From, To uint64   // seeds, both of them
	Years    uint64   // how many of these seeds live through whole years too; 0: all
	Quick    bool     // only the rows that have a pass mark, at that mark's sets and worlds
}

// Check tells what is wrong with what was asked, and fills in what was left out.
func (a *Ask) Check() error {
	if len(a.Sets) == 0 {
		a.Sets = Sets
	}
	for _, s := range a.Sets {
		if !slices.Contains(Sets, s) {
			return fmt.Errorf("no sensor set %q: write some of %s", s, strings.Join(Sets, ", "))
		}
	}
	for _, id := range a.Rows {
		if !slices.Contains(RowNames(), id) {
			return fmt.Errorf("no row %q: write some of %s", id, strings.Join(RowNames(), ", "))
		}
	}
	if a.From < 1 || a.To < a.From {
		return fmt.Errorf("seeds %d-%d: write FROM-TO, with 1 or more first and no less after it", a.From, a.To)
	}
	if len(a.cells()) == 0 {
		return fmt.Errorf("nothing is left to run: none of these rows is measured with these sensor sets")
	}
	return nil
}

// RowNames lists the names that rows are asked for by.
func RowNames() []string {
	var out []string
	for i := range rows {
		if !slices.Contains(out, rows[i].id) {
			out = append(out, rows[i].id)
		}
	}
	return out
}

// cell is one row in one setting.
type cell struct {
	row *row
	Setting
}

// cells lists what an ask is about.
func (a *Ask) cells() []cell {
	var out []cell
	for i := range rows {
		r := &rows[i]
		if len(a.Rows) > 0 && !slices.Contains(a.Rows, r.id) {
			continue
		}
		for _, s := range r.settings(a.Sets) {
			if c := (cell{r, s}); !a.Quick || markOf(c) != nil {
				out = append(out, c)
			}
		}
	}
	return out
}

// jobs lists the replicates that the cells need and that have not been run, those of one plant together: its youth is
// lived through once. Plants of every setting come in turn, so that an interrupt leaves some of each.
func (a *Ask) jobs(cells []cell, done []Result) [][]job {
	have := map[job]bool{}
	for _, r := range done {
		have[job{r.Setting, r.Seed}] = true
	}
	var out [][]job
	at := map[job]int{} // by plant
	for seed := a.From; seed <= a.To; seed++ {
		for _, c := range cells {
			j := job{c.Setting, seed}
			if have[j] || seed >= a.From+a.seeds(c) {
				continue
			}
			have[j] = true
			plant := j
			plant.Scenario = ""
			i, known := at[plant]
			if !known {
				i = len(out)
				at[plant], out = i, append(out, nil)
			}
			out[i] = append(out[i], j)
		}
	}
	return out
}

// seeds returns how many seeds a cell is run with.
func (a *Ask) seeds(c cell) uint64 {
	n := a.To - a.From + 1
	switch {
	case a.Quick:
		n = min(n, markOf(c).seeds)
	case a.Years > 0 && scenarioOf(c.Scenario).days >= yearLong:
		n = min(n, a.Years)
	}
	return n
}

// Trials runs what was asked for and is not done yet, on all processors. Each result goes to keep as soon as it is there,
// one at a time; an error of keep, or of a replicate, ends the run.
func Trials(ctx context.Context, a Ask, done []Result, keep func(r Result, finished, of int) error) ([]Result, error) {
	if err := a.Check(); err != nil {
		return nil, err
	}
	plants := a.jobs(a.cells(), done)
	of := 0
	for _, jobs := range plants {
		of += len(jobs)
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	next := make(chan []job)
	var wg sync.WaitGroup
	var lock sync.Mutex
	finished := 0
	took := func(r Result) error {
		lock.Lock()
		defer lock.Unlock()
		finished++
		done = append(done, r)
		return keep(r, finished, of)
	}
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for jobs := range next {
				if err := runPlant(ctx, jobs, took); err != nil {
					cancel(err)
				}
			}
		})
	}
	for _, jobs := range plants {
		select {
		case next <- jobs:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	wg.Wait()
	return done, context.Cause(ctx)
}

// runPlant runs the replicates of one plant, until the context ends.
func runPlant(ctx context.Context, jobs []job, took func(Result) error) error {
	var young youth
	for _, j := range jobs {
		if ctx.Err() != nil {
			return nil
		}
		r, err := j.run(&young)
		if err == nil {
			err = took(r)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// run runs one replicate.
func (j job) run(young *youth) (Result, error) {
	sc := scenarioOf(j.Scenario)
	if sc == nil {
		return Result{}, fmt.Errorf("no scenario %q", j.Scenario)
	}
	began := time.Now()
	l, err := live(j.Setting, sc, j.seed, young)
	if err != nil {
		return Result{}, err
	}
	r := Result{Setting: j.Setting, Seed: j.seed, Metrics: Metrics{}}
	r.Metrics.add("baseline", flag(l.complete))
	sc.measure(l, r.Metrics)
	r.Seconds = time.Since(began).Seconds()
	return r, nil
}
