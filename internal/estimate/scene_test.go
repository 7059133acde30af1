package estimate_test

import (
	"fmt"
	"math"
	"regexp"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/watch"

	"ductward/internal/trial"
)

// The files of scenes that ask what a plant's readings tell, and how often, are not compiled for the race detector: it slows a
// simulation tenfold, and a fold is one goroutine. The check that everybody runs has a turn without it. With it go scenes that
// stand for the rest: looked at meanwhile, with gates that tell nothing, with a gate left open.

// scene is a shop whose truth is known: the plant's formulas are not the estimate's, its ducts are not built as they are
// drawn, and its sensors are as good as sensors are.
type scene struct {
	seed    uint64
	days    int
	faults  []plant.Fault
	work    func(*plant.WorkOptions) // changes the habits; nil: ordinary ones
	built   func(*plant.Options)     // and the plant; nil: of ordinary care
	read    func(*trial.Record)      // and how it is read; nil: means of half a minute
	shop    func() (*shop.Shop, error)
	told    func(*shop.Shop) // makes less of the shop that the watch is told of; nil: it knows all
	entries []journal.Entry
	peek    bool // take snapshots all the while
	hook    func(day int, w *watch.Watch)
	heard   func(*reading.Reading) bool // what of the readings reaches the watch; nil: all
}

// lived is what became of a scene.
type lived struct {
	scene
	shop    *shop.Shop
	watched watch.Collector
	truth   []dayTruth
	cleaned []time.Time // when the filter really was
}

// dayTruth is what was so on one day.
type dayTruth struct {
	runs  int
	ratio float64 // filter resistance against clean, in the middle of the day's runs; NaN without any
	last  float64 // and after the last of them
	leak  float64 // m³/s at 1500 Pa, at the end of the day
}

// demoShop returns the demo's shop, a new one each time.
func demoShop() (*shop.Shop, error) {
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	if err != nil {
		return nil, err
	}
	return s, shop.Errors(problems)
}

// processors is held by whoever lives a scene: more of them than processors only slow each other down.
var processors = make(chan struct{}, runtime.GOMAXPROCS(0))

// live lives through a scene, and looks at every word that was said in it.
func live(t testing.TB, sc scene) *lived {
	t.Helper()
	processors <- struct{}{}
	l, err := sc.play()
	<-processors
	require.NoError(t, err, "seed %d", sc.seed)
	sane(t, l)
	return l
}

func (sc scene) play() (*lived, error) {
	if sc.shop == nil {
		sc.shop = demoShop
	}
	s, err := sc.shop()
	if err != nil {
		return nil, err
	}
	r := trial.NewRecord(s, sc.seed)
	r.Work.Faults = sc.faults
	if sc.work != nil {
		sc.work(&r.Work)
	}
	if sc.built != nil {
		sc.built(&r.Plant)
	}
	if sc.read != nil {
		sc.read(r)
	}
	known, err := sc.shop()
	if err != nil {
		return nil, err
	}
	if sc.told != nil {
		sc.told(known)
	}
	w, err := watch.New(known)
	if err != nil {
		return nil, err
	}
	l := &lived{scene: sc, shop: s}
	var runs []steady.Run
	entries := sc.entries
	n := 0
	err = r.Run(sc.days, func(rd reading.Reading) {
		for len(entries) > 0 && !rd.Time.Before(entries[0].Time) {
			w.Entry(entries[0])
			entries = entries[1:]
		}
		if sc.heard == nil || sc.heard(&rd) {
			runs = append(runs, w.Reading(rd)...)
		}
		if n++; sc.peek && n%997 == 0 {
			w.Snapshot()
		}
	}, func(day int, p *plant.Plant) {
		t, err := p.Truth()
		if err != nil {
			panic(err)
		}
		l.truth = append(l.truth, dayTruth{leak: t.NewLeakage})
		if sc.hook != nil {
			sc.hook(day, w)
		}
	})
	if err != nil {
		return nil, err
	}
	runs = append(runs, w.Flush()...)
	l.watched = w.Snapshot().Collectors[0]
	return l, l.filterTruth(r, runs)
}

// filterTruth works out the filter's true resistance at the middle of each day's runs.
func (l *lived) filterTruth(r *trial.Record, runs []steady.Run) error {
	work, err := plant.NewWorkdays(r.Collector, r.Work)
	if err != nil {
		return err
	}
	ratio := r.Work.FirstRatio
	for d := range l.truth {
		var at []time.Duration
		var to []float64
		for _, e := range work.Day(d) {
			if e.Kind == plant.FilterEvent || e.Kind == plant.CleanedEvent {
				at, to = append(at, time.Duration(d)*24*time.Hour+e.At), append(to, e.Value)
			}
			if e.Kind == plant.CleanedEvent {
				l.cleaned = append(l.cleaned, r.Work.Start.Add(time.Duration(d)*24*time.Hour+e.At))
			}
		}
		sum, day := 0.0, &l.truth[d]
		day.last = ratio
		for i := range runs {
			if runs[i].Kind == steady.Zero || int(runs[i].Start/(24*time.Hour)) != d {
				continue
			}
			middle := (runs[i].Start + runs[i].End) / 2
			for len(at) > 0 && at[0] <= middle {
				ratio, at, to = to[0], at[1:], to[1:]
			}
			sum += math.Log(ratio)
			day.runs++
			day.last = ratio
		}
		day.ratio = math.Exp(sum / float64(day.runs))
		if len(to) > 0 {
			ratio = to[len(to)-1]
		}
	}
	return nil
}

// baselineTruth returns the filter's true resistance in the baseline: the mean over its days.
func (l *lived) baselineTruth() float64 {
	sum, n := 0.0, 0.0
	for d, day := range l.truth {
		if at := trial.Start.AddDate(0, 0, d); at.Before(l.watched.Baseline.From.Truncate(24*time.Hour)) || at.After(l.watched.Baseline.To) {
			continue
		}
		if day.runs > 0 {
			sum += math.Log(day.ratio)
			n++
		}
	}
	return math.Exp(sum / n)
}

// on returns the truth of a day by its date.
func (l *lived) on(date string) dayTruth {
	at, err := time.Parse("2006-01-02", date)
	if err != nil {
		return dayTruth{ratio: math.NaN()}
	}
	return l.truth[daysUntil(at)]
}

// of returns the findings of some kinds, oldest first.
func (l *lived) of(kinds ...finding.Kind) []finding.Finding {
	var out []finding.Finding
	for _, f := range l.watched.Findings {
		for _, k := range kinds {
			if f.Kind == k {
				out = append(out, f)
			}
		}
	}
	return out
}

// leaks returns the findings of leaks.
func (l *lived) leaks() []finding.Finding {
	return l.of(finding.NewLeak, finding.GrowingLeak, finding.GateLeaks)
}

// alarms returns what was told and is not true of every such shop.
func (l *lived) alarms() []finding.Finding {
	var out []finding.Finding
	for _, f := range l.watched.Findings {
		switch f.Kind {
		case finding.AirShort, finding.FilterDue, finding.DustMaySettle, finding.FilterCleaned:
			continue
		}
		if f.Priority != finding.Journal {
			out = append(out, f)
		}
	}
	return out
}

// say lists findings for a message.
func say(fs []finding.Finding) string {
	out := ""
	for _, f := range fs {
		out += fmt.Sprintf("\n%s %q %s, size %.4g (%.4g to %.4g) %s, raised %s, since %s, ended %s: %s", f.Kind, f.Subject, f.Priority, f.Size,
			f.SizeLow, f.SizeHigh, f.SizeUnit, f.Raised.Format("2 Jan"), f.Onset.Format("2 Jan"), f.Ended.Format("2 Jan"), f.Text)
	}
	return out
}

// day returns the civil date of a day of the scene.
func day(n int) time.Time { return trial.Start.AddDate(0, 0, n) }

// daysUntil returns the number of a moment's day.
func daysUntil(t time.Time) int { return int(t.Sub(day(0)) / (24 * time.Hour)) }

// everyDay makes a shop that works on all days: a short record holds more of them.
func everyDay(o *plant.WorkOptions) { o.AllDays = true }

// many lives through scenes on all processors.
func many(t *testing.T, scenes []scene) []*lived {
	t.Helper()
	out := make([]*lived, len(scenes))
	errs := make([]error, len(scenes))
	var wg sync.WaitGroup
	for i := range scenes {
		wg.Go(func() {
			processors <- struct{}{}
			defer func() { <-processors }()
			out[i], errs[i] = scenes[i].play()
		})
	}
	wg.Wait()
	for i := range out {
		require.NoError(t, errs[i], "seed %d", scenes[i].seed)
		sane(t, out[i])
	}
	return out
}

// broken finds what a sentence for people must never hold: numbers that are none, and a format that went wrong.
var broken = regexp.MustCompile(`NaN|Inf|%!|<nil>|\(MISSING\)| {2}|\?\?|0001`)

// sane checks what holds of every finding, whatever happened.
func sane(t testing.TB, l *lived) {
	t.Helper()
	ids := map[string]bool{}
	for _, f := range l.watched.Findings {
		what := fmt.Sprintf("seed %d: %s", l.seed, say([]finding.Finding{f}))
		assert.False(t, ids[f.ID], "told twice under one name: %s", what)
		ids[f.ID] = true
		for _, text := range append([]string{f.Text, f.Action, f.Evidence, f.Subject}, f.ConfusableWith...) {
			assert.NotRegexp(t, broken, text, what)
		}
		assert.NotEmpty(t, f.Text, what)
		if f.Kind != finding.LeakMended && f.Kind != finding.FilterCleaned {
			assert.NotEmpty(t, f.Action, what)
		}
		if f.Kind != finding.SensorLost && f.Kind != finding.SensorStuck {
			for _, x := range []float64{f.Size, f.SizeLow, f.SizeHigh} {
				assert.False(t, math.IsNaN(x) || math.IsInf(x, 0), what)
			}
			assert.LessOrEqual(t, f.SizeLow, f.Size, what)
			assert.LessOrEqual(t, f.Size, f.SizeHigh, what)
		}
		assert.False(t, f.Raised.IsZero() || f.Onset.IsZero(), what)
		assert.False(t, f.OnsetLow.After(f.Onset) || f.Onset.After(f.OnsetHigh), "onset outside its interval %v to %v: %s", f.OnsetLow, f.OnsetHigh, what)
		if !f.Ended.IsZero() {
			assert.False(t, f.Ended.Before(f.Onset), what)
		}
		sum := 0.0
		for _, p := range f.Where {
			assert.True(t, p.Probability > 0 && p.Probability <= 1+1e-9, what)
			sum += p.Probability
		}
		if len(f.Where) > 0 {
			assert.InDelta(t, 1, sum, 1e-6, "probabilities of place: %s", what)
		}
	}
	for _, d := range l.watched.Days {
		saneDay(t, l.seed, &d)
	}
}

// saneDay checks what holds of every day.
func saneDay(t testing.TB, seed uint64, d *estimate.Day) {
	t.Helper()
	for _, v := range []estimate.Value{d.FilterRatio, d.Leakage, d.FanRatio, d.Flow} {
		assert.False(t, math.IsInf(v.V, 0) || math.IsInf(v.SE, 0) || math.IsNaN(v.V) != math.IsNaN(v.SE), "seed %d, %s: %+v", seed, d.Date, d)
		assert.False(t, v.SE < 0, "seed %d, %s: %+v", seed, d.Date, d)
	}
	sum := 0.0
	for _, z := range d.Zones {
		sum += z.Probability
	}
	if len(d.Zones) > 0 {
		assert.InDelta(t, 1, sum, 1e-6, "seed %d, %s: probabilities of place", seed, d.Date)
	}
	if d.Due != nil {
		assert.False(t, d.Due.Low.After(d.Due.Date) || d.Due.Date.After(d.Due.High), "seed %d, %s: %+v", seed, d.Date, d.Due)
		assert.False(t, math.IsNaN(d.Due.Ratio) || math.IsInf(d.Due.Ratio, 0), "seed %d, %s: %+v", seed, d.Date, d.Due)
		assert.NotEmpty(t, d.Due.Reason)
	}
}

// written writes days out in full, so that those with NaN in them can be compared.
func written(days []estimate.Day) []string {
	var out []string
	for _, d := range days {
		due := "never"
		if d.Due != nil {
			due = fmt.Sprintf("%+v", *d.Due)
			d.Due = nil
		}
		out = append(out, fmt.Sprintf("%+v due %s", d, due))
	}
	return out
}
