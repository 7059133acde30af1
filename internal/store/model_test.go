package store

import (
	"fmt"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/journal"
	"ductward/internal/reading"
)

// model is the store as it should be: a plain list, and where each boot was placed.
type model struct {
	dir       string
	s         *Store
	rs        []reading.Reading // in the order in which they were appended
	committed int               // so many of them are promised
	pruned    []reading.Reading // let go for their age; charts still count them
	kept      map[uint32]time.Duration
	notes     []string // of the journal
	zero      map[uint32]time.Time
	civil     time.Duration // by how much the board's clock is wrong
	boot      uint32
	mono      time.Duration
	seq       uint64
	doubles   int
	unsettled bool // a double of a sealed reading may be open
}

var modelChannels = []string{"north/filter", "north/static", "gate/saw"}

// TestStoreIsItsModel drives a store and a plain list with the same random calls: readings, some late and some double,
// journal entries, commits, sealing, retention, charts, new boots, clocks that jump by hours, days or 50 years, back and
// forth, during a boot and between two, reopening, and power cuts.
func TestStoreIsItsModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "store-model-")
		require.NoError(t, err)
		defer func() { _ = os.RemoveAll(dir) }()
		m := &model{dir: dir, zero: map[uint32]time.Time{}, kept: map[uint32]time.Duration{}}
		m.open(t)
		defer func() { _ = m.s.Close() }()
		m.newBoot(t)
		t.Repeat(map[string]func(*rapid.T){
			"append":  m.append,
			"late":    m.appendLate,
			"double":  m.appendDouble,
			"journal": m.note,
			"commit":  m.commit,
			"seal":    m.seal,
			"prune":   m.prune,
			"chart":   m.chart,
			"span":    m.chartOfAll,
			"boot":    m.newBoot,
			"jump":    m.jump,
			"place":   m.placeEarlier,
			"reopen":  m.reopen,
			"cut":     m.powerCut,
			"forward": func(t *rapid.T) { m.mono += time.Duration(rapid.IntRange(1, 40).Draw(t, "hours")) * time.Hour },
			"check":   m.check,
		})
		m.seal(t)
		m.check(t)
		require.EqualValues(t, m.doubles, m.s.Doubles())
	})
}

func (m *model) open(t *rapid.T) {
	s, err := Open(m.dir, Options{MaxOpen: 64, KeepRaw: 3 * 24 * time.Hour})
	require.NoError(t, err)
	s.db.NoSync = true // nothing here cuts the power
	m.s = s
}

// newBoot begins a life of the board. What was not committed in the life before is in the store's memory still.
func (m *model) newBoot(t *rapid.T) {
	boot, err := m.s.NewBoot()
	require.NoError(t, err)
	m.boot, m.mono, m.seq = boot, 0, 0
	m.zero[boot] = time.Time{}
}

func (m *model) next(t *rapid.T, mono time.Duration) reading.Reading {
	m.seq += uint64(rapid.IntRange(1, 3).Draw(t, "seq"))
	r := reading.Reading{Channel: rapid.SampledFrom(modelChannels).Draw(t, "channel"), SD: math.NaN(), Boot: m.boot,
		Mono: mono, Seq: m.seq, Value: float64(rapid.IntRange(-500, 500).Draw(t, "code")) / 60}
	if r.Channel == "north/static" {
		r.Value, r.SD, r.N, r.Span = rapid.Float64Range(-3000, 0).Draw(t, "value"), 1.5, 10, time.Second
	}
	if r.Channel == "gate/saw" {
		r.Value = rapid.SampledFrom([]float64{0, 1, math.NaN()}).Draw(t, "position")
	}
	return r
}

func (m *model) commit(t *rapid.T) {
	require.NoError(t, m.s.Commit())
	m.committed = len(m.rs)
}

func (m *model) seal(t *rapid.T) {
	require.NoError(t, m.s.Seal())
	m.committed, m.unsettled = len(m.rs), false
}

func (m *model) note(t *rapid.T) {
	m.notes = append(m.notes, rapid.StringN(0, 300, -1).Draw(t, "note"))
	_, err := m.s.AddJournal(journal.Entry{Kind: journal.Other, Note: m.notes[len(m.notes)-1]})
	require.NoError(t, err)
}

func (m *model) append(t *rapid.T) {
	step := time.Duration(rapid.IntRange(0, 30).Draw(t, "seconds")) * time.Second
	for range rapid.IntRange(1, 60).Draw(t, "readings") {
		m.mono += step
		m.take(t, m.next(t, m.mono))
	}
}

func (m *model) appendLate(t *rapid.T) {
	m.take(t, m.next(t, time.Duration(rapid.Int64Range(0, int64(m.mono)).Draw(t, "mono"))))
}

func (m *model) take(t *rapid.T, r reading.Reading) {
	m.rs = append(m.rs, r)
	require.NoError(t, m.s.Append([]reading.Reading{r}))
}

func (m *model) appendDouble(t *rapid.T) {
	if len(m.rs) == 0 {
		return
	}
	m.doubles++
	m.unsettled = true
	require.NoError(t, m.s.Append([]reading.Reading{rapid.SampledFrom(m.rs).Draw(t, "double")}))
}

func (m *model) reopen(t *rapid.T) {
	// The doubles counted so far are forgotten; those that are open are counted when the pieces are sealed.
	m.seal(t)
	m.doubles -= int(m.s.Doubles())
	require.NoError(t, m.s.Close())
	m.open(t)
	require.Empty(t, m.s.Notices())
}

// check compares all that can be asked.
func (m *model) check(t *rapid.T) {
	want := slices.Clone(m.rs)
	for i := range want {
		if zero := m.zero[want[i].Boot]; !zero.IsZero() {
			want[i].Time = zero.Add(want[i].Mono)
		}
	}
	slices.SortFunc(want, reading.Compare)
	i := 0
	for got, err := range m.s.Readings(t.Context(), ReadQuery{}) {
		require.NoError(t, err)
		require.Less(t, i, len(want), "more readings than were appended: %+v", got)
		require.Equal(t, fmt.Sprintf("%+v", want[i]), fmt.Sprintf("%+v", got))
		i++
	}
	require.Equal(t, len(want), i)
	for name, got := range m.s.Latest() {
		last := -1
		for i := range want {
			if want[i].Channel == name {
				last = i
			}
		}
		require.Equal(t, fmt.Sprintf("%+v", want[last]), fmt.Sprintf("%+v", got))
	}
	entries, err := m.s.Journal()
	require.NoError(t, err)
	require.Len(t, entries, len(m.notes))
	for i, e := range entries {
		require.Equal(t, m.notes[i], e.Note)
	}
	breaches, err := m.s.Check()
	require.NoError(t, err)
	require.Empty(t, breaches)
}
