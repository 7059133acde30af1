package dashboard

import (
	"errors"
	"log/slog"
	"math"
	"net/http"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// fake is everything that the dashboard reads, held in memory.
type fake struct {
	mu      sync.Mutex
	shop    *shop.Shop
	snap    *watch.Snapshot
	entries []journal.Entry
	alarms  []alarm.Alarm
	fail    error                      // what every record answers, if set
	empty   bool                       // no reading at all
	latest  map[string]reading.Reading // besides those of the sensors
}

func (f *fake) Snapshot() *watch.Snapshot {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.snap
}

func (f *fake) set(s *watch.Snapshot) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.snap = s
}

// Chart gives a working day: the fan stands still before eight and after five, and the record has a hole at noon.
func (f *fake) Chart(channel string, from, to time.Time, n int) ([]Bucket, error) {
	if f.fail != nil {
		return nil, f.fail
	}
	var out []Bucket
	step := to.Sub(from) / time.Duration(n)
	for i := range n {
		b := Bucket{Start: from.Add(time.Duration(i) * step), End: from.Add(time.Duration(i+1) * step)}
		h := float64(b.Start.Hour()) + float64(b.Start.Minute())/60
		if !f.empty && !(h > 12 && h < 12.7) && !b.Start.After(testNow) {
			b.N = max(1, int(step/time.Second))
			on := 0.0
			if h > 8 && h < 17 {
				on = 1
			}
			b.Mean = on * (1500 + 220*math.Sin(h*2) + 90*math.Sin(h*11))
			b.Min, b.Max = b.Mean-on*60-1, b.Mean+on*45+1
			if channel[:5] == "gate/" {
				b.Mean = on * math.Round(0.5+0.5*math.Sin(h*5))
				b.Min, b.Max = b.Mean, b.Mean
			}
			if channel == "main/trunk" {
				b.Mean, b.Min, b.Max = -b.Mean, -b.Max, -b.Min
			}
		}
		out = append(out, b)
	}
	return out, nil
}

func (f *fake) Latest() map[string]reading.Reading {
	f.mu.Lock()
	defer f.mu.Unlock()
	out := map[string]reading.Reading{}
	if f.empty || f.snap == nil {
		return out
	}
	for _, c := range f.snap.Collectors {
		for _, x := range c.Sensors {
			out[x.Channel] = reading.Reading{Channel: x.Channel, Value: x.Value, Time: x.At}
		}
	}
	for ch, r := range f.latest {
		out[ch] = r
	}
	return out
}

func (f *fake) Journal() ([]journal.Entry, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]journal.Entry(nil), f.entries...), f.fail
}

func (f *fake) AddJournal(e journal.Entry) (uint64, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.fail != nil {
		return 0, f.fail
	}
	f.entries = append(f.entries, e)
	return uint64(len(f.entries)), nil
}

func (f *fake) List() []alarm.Alarm {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]alarm.Alarm(nil), f.alarms...)
}

func (f *fake) Acknowledge(id, by string, at time.Time) (alarm.Alarm, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for i := range f.alarms {
		if f.alarms[i].ID == id {
			f.alarms[i].Acked, f.alarms[i].AckedBy, f.alarms[i].State = at, by, alarm.ActiveAcknowledged
			return f.alarms[i], nil
		}
	}
	return alarm.Alarm{}, errors.New("no such alarm")
}

// does lets a manager do what is asked for, on the fake's own alarms.
func (f *fake) does(do func(*alarm.Manager) (alarm.Alarm, error)) (alarm.Alarm, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	m := alarm.NewManager(f.alarms, alarm.DefaultOptions())
	a, err := do(m)
	f.alarms = m.List()
	return a, err
}

func (f *fake) Shelve(id, by, reason string, at, until time.Time, once bool) (alarm.Alarm, error) {
	return f.does(func(m *alarm.Manager) (alarm.Alarm, error) { return m.Shelve(id, by, reason, at, until, once) })
}

func (f *fake) Unshelve(id, by string, at time.Time) (alarm.Alarm, error) {
	return f.does(func(m *alarm.Manager) (alarm.Alarm, error) { return m.Unshelve(id, by, at) })
}

func (f *fake) TakeOut(id, by, reason string, at time.Time) (alarm.Alarm, error) {
	return f.does(func(m *alarm.Manager) (alarm.Alarm, error) { return m.TakeOut(id, by, reason, at) })
}

func (f *fake) PutBack(id, by string, at time.Time) (alarm.Alarm, error) {
	return f.does(func(m *alarm.Manager) (alarm.Alarm, error) { return m.PutBack(id, by, at) })
}

func (f *fake) Confirm(id, by, found, action string, at time.Time) (alarm.Alarm, error) {
	return f.does(func(m *alarm.Manager) (alarm.Alarm, error) { return m.Confirm(id, by, found, action, at) })
}

// newFake is the shop on a working day.
func newFake() *fake {
	f := &fake{shop: testShop(), snap: testSnapshot()}
	f.entries = []journal.Entry{
		{Time: testNow.AddDate(0, -6, 3), Kind: journal.Baseline, Note: "Nine gate sets, misfit 2 %.", By: "R. Okafor"},
		{Time: testNow.AddDate(0, 0, -54).Add(-time.Hour), Kind: journal.FilterCleaned, Subject: "main", Note: "Shaken for ten minutes, bags changed. Respirator worn.", By: "M. Hale"},
		{Time: testNow.AddDate(0, 0, -20), Kind: journal.BinEmptied, Subject: "main", By: "M. Hale"},
		{Time: testNow.AddDate(0, 0, -6), Kind: journal.Check, Note: "Hoods, hoses, earth wires: in order.", By: "R. Okafor"},
		{Time: testNow.Add(-4 * time.Hour), Kind: journal.BinEmptied, Subject: "main", By: "M. Hale"},
	}
	for _, x := range f.snap.Collectors[0].Findings {
		if asking(&x) {
			f.alarms = append(f.alarms, alarm.Alarm{ID: x.ID, Cause: x.Collector + "/" + string(x.Kind) + "/" + x.Subject, Priority: x.Priority,
				State: alarm.ActiveUnacknowledged, Text: x.Text, Action: x.Action, Raised: x.Raised})
		}
	}
	return f
}

// scenes are the states in which every page must stand.
func scenes() map[string]*fake {
	idle := newFake()
	idle.snap.Collectors[0].Now.FanOn = false
	idle.snap.Collectors[0].Now.Open = nil
	for i := range idle.snap.Collectors[0].Now.Machines {
		m := &idle.snap.Collectors[0].Now.Machines[i]
		m.Open, m.Flow = false, val(math.NaN(), math.NaN())
	}
	idle.snap.Collectors[0].Now.Runs = nil
	idle.snap.Collectors[0].Findings, idle.alarms = idle.snap.Collectors[0].Findings[:2], nil

	good := newFake()
	good.snap.Collectors[0].Now = testAir("bench saw", "edge sander", "band saw")
	good.snap.Collectors[0].Findings, good.alarms = good.snap.Collectors[0].Findings[:2], nil
	good.snap.Collectors[0].Lacks = nil

	empty := &fake{shop: testShop(), empty: true}
	faults := newFake()
	faults.snap, faults.alarms = faultySnapshot(), nil

	bare := newFake()
	bare.shop.Collectors[0].Network = nil
	bare.snap.Collectors[0].Now.Runs = nil

	smallest := newFake()
	smallest.shop.Collectors[0].Network, smallest.shop.Collectors[0].Machines, smallest.shop.Collectors[0].Gates = nil, nil, nil
	smallest.shop.Collectors[0].Sensors = smallest.shop.Collectors[0].Sensors[:2]
	smallest.snap.Collectors[0].Now.Runs, smallest.snap.Collectors[0].Now.Machines, smallest.snap.Collectors[0].Now.Open = nil, nil, nil
	smallest.snap.Collectors[0].Sensors = smallest.snap.Collectors[0].Sensors[:2]
	smallest.snap.Collectors[0].Findings, smallest.alarms = smallest.snap.Collectors[0].Findings[:3], smallest.alarms[:1]

	two := newFake()
	second := *two.shop.Collectors[0]
	second.Name = "sanding"
	two.shop.Collectors = append(two.shop.Collectors, &second)
	c := testSnapshot().Collectors[0]
	c.Name, c.Now, c.Findings = "sanding", testAir("edge sander"), nil
	two.snap.Collectors = append(two.snap.Collectors, c)
	walk := newFake()
	w := &walk.snap.Collectors[0]
	w.Baseline, w.Days, w.Findings, walk.alarms = makingBaseline(), nil, nil, nil
	w.Now = testAir(testMachines[1].name)
	w.Now.Stands, w.Now.Set = 65*time.Second, "="+testMachines[1].name

	return map[string]*fake{"walk": walk, "work": newFake(), "good": good, "idle": idle, "empty": empty, "faults": faults, "no-drawing": bare, "smallest": smallest, "two": two}
}

// config is what New gets for a fake. httptest asks under the name example.com.
func (f *fake) config() Config {
	return Config{Names: []string{"example.com"}, Shop: f.shop, Watch: f, Readings: f, Journal: f, Alarms: f, Clock: clock.NewVirtual(testNow), Refresh: 20 * time.Millisecond, Version: "test",
		Log: slog.New(slog.DiscardHandler)}
}

// handler is the dashboard over a fake.
func (f *fake) handler(tb testing.TB) http.Handler {
	tb.Helper()
	h, err := New(f.config())
	require.NoError(tb, err)
	return h
}
