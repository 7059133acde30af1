package store

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/steady"
)

// The variables that make the test binary a writer that waits to be killed.
const (
	writerFolder = "STORE_TEST_WRITER"
	writerLast   = "STORE_TEST_WRITER_LAST" // what was acknowledged before, as ack prints it
)

// mostBetween is how many readings the writer appends between two commits.
const mostBetween = 200

// written is reading i of the writer: what it must be can be told from its number alone.
func written(boot uint32, i int) reading.Reading {
	r := reading.Reading{Channel: fmt.Sprintf("north/%d", i%5), Value: float64(i*31%977) / 60, SD: math.NaN(), Boot: boot,
		Mono: time.Duration(i) * 700 * time.Millisecond, Seq: uint64(i)}
	if i%5 == 4 {
		r.Value = math.Sin(float64(i))
	}
	return r
}

func writtenRun(n int) steady.Run {
	return steady.Run{Collector: "north", Kind: steady.Closed, Boot: 1, Start: time.Duration(n-1) * time.Second,
		End: time.Duration(n) * time.Second, Open: []string{"saw"}, FanHours: float64(n)}
}

// ack is how far the writer has come, kind by kind: how many of each it was told are kept. Alarms, findings and the
// placement of the boot are replaced rather than added to, and their number is the newest version.
type ack struct{ Boot, Readings, Runs, Journal, Alarm, Finding, Baseline, Shop, Place int }

func (a *ack) String() string {
	return fmt.Sprintf("%d %d %d %d %d %d %d %d %d", a.Boot, a.Readings, a.Runs, a.Journal, a.Alarm, a.Finding, a.Baseline,
		a.Shop, a.Place)
}

func (a *ack) parse(s string) error {
	_, err := fmt.Sscan(s, &a.Boot, &a.Readings, &a.Runs, &a.Journal, &a.Alarm, &a.Finding, &a.Baseline, &a.Shop, &a.Place)
	return err
}

// killedWriter is the life of the process that is killed.
type killedWriter struct {
	s    *Store
	done ack
	rng  *rand.Rand
}

// writeUntilKilled continues the record in dir, and says on standard output what it has been promised is kept.
func writeUntilKilled(dir, last string) int {
	w := killedWriter{}
	if err := w.done.parse(last); err != nil {
		fmt.Println("error", err)
		return 1
	}
	fmt.Println("begin") // it may be killed from here on, while it opens and while it makes the file
	var err error
	if w.s, err = Open(dir, Options{MaxOpen: 1024}); err != nil {
		fmt.Println("error", err)
		return 1
	}
	w.rng = rand.New(rand.NewPCG(uint64(w.done.Readings), 4))
	for err == nil {
		err = w.step()
		fmt.Println("kept", &w.done)
	}
	fmt.Println("error", err)
	return 1
}

// step makes one call, sometimes two, and notes what is then promised.
func (w *killedWriter) step() (err error) {
	d := &w.done
	if d.Boot == 0 {
		if len(w.s.Boots()) == 0 {
			_, err = w.s.NewBoot()
		}
		d.Boot = 1
		return err
	}
	kinds := []func(n int) error{
		func(n int) error {
			_, err := w.s.AddJournal(journal.Entry{Kind: journal.Other, Note: strconv.Itoa(n)})
			return err
		},
		func(n int) error { return w.s.PutAlarms([]alarm.Alarm{{ID: "one", Times: n}, {ID: "two", Times: n}}) },
		func(n int) error {
			return w.s.PutFindings("north", []finding.Finding{{ID: "x", Raised: noon, Size: float64(n)}})
		},
		func(n int) error { return w.s.PutBaseline("north", n, []byte(strconv.Itoa(n))) },
		func(n int) error { return w.s.PutShop([]byte(strconv.Itoa(n)), noon) },
		func(n int) error { return w.s.PlaceBoot(1, noon.Add(time.Duration(n)*time.Hour)) },
	}
	counts := []*int{&d.Journal, &d.Alarm, &d.Finding, &d.Baseline, &d.Shop, &d.Place}
	if k := w.rng.IntN(2 * len(kinds)); k < len(kinds) {
		if err = kinds[k](*counts[k] + 1); err == nil {
			*counts[k]++
		}
		return err
	}
	return w.readings()
}

// readings appends some, with a run now and then, and commits or seals them.
func (w *killedWriter) readings() (err error) {
	d, n, runs := &w.done, 1+w.rng.IntN(mostBetween), w.rng.IntN(2)
	for i := range n {
		if err = w.s.Append([]reading.Reading{written(1, d.Readings+i)}); err != nil {
			return err
		}
	}
	if runs > 0 {
		if err = w.s.AppendRuns([]steady.Run{writtenRun(d.Runs + 1)}); err != nil {
			return err
		}
	}
	if w.rng.IntN(8) == 0 {
		err = w.s.Seal()
	} else {
		err = w.s.Commit()
	}
	if err == nil {
		d.Readings, d.Runs = d.Readings+n, d.Runs+runs
	}
	return err
}
