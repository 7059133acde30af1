//go:build !race

package estimate_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// rowDay is the day from which the trouble of a row is in the plant: the baseline is complete, and some days are judged.
const rowDay = 9

// row is one row of the table by which the trade tells troubles apart, put into a shop with some sensors.
type row struct {
	trouble string
	shop    func() (*shop.Shop, error)
	faults  []plant.Fault
	work    func(*plant.WorkOptions)    // nil: on all days
	heard   func(*reading.Reading) bool // nil: all
	told    finding.Kind                // the only alarm; "": none
	within  int                         // days after the first on which it is told at the latest; 0: one
	also    func(t *testing.T, what string, l *lived, f finding.Finding)
}

// fitted returns the trials' shop with a set of sensors, with those of the room's air or without, and with what else is changed.
func fitted(set string, air bool, more ...func(*shop.Collector)) func() (*shop.Shop, error) {
	return func() (*shop.Shop, error) {
		s, err := trial.Shop(set, air)
		if err != nil {
			return nil, err
		}
		for _, change := range more {
			change(s.Collectors[0])
		}
		return s, nil
	}
}

// trouble is one fault from rowDay on.
func trouble(k plant.EventKind, name string, size float64) []plant.Fault {
	return []plant.Fault{{Day: rowDay, At: 5 * time.Hour, Kind: k, Name: name, Size: size}}
}

// tellRows lives through rows, and holds that each is told as it should be, and nothing else.
func tellRows(t *testing.T, seed uint64, days int, rows []row) {
	t.Helper()
	var scenes []scene
	for i, r := range rows {
		work := r.work
		if work == nil {
			work = everyDay
		}
		scenes = append(scenes, scene{seed: seed + uint64(i), days: days, shop: r.shop, faults: r.faults, work: work, heard: r.heard})
	}
	for i, l := range many(t, scenes) {
		r := rows[i]
		what := r.trouble + ": " + say(l.alarms())
		t.Log(what)
		var f finding.Finding
		if r.told == "" {
			assert.Empty(t, l.alarms(), what)
		} else if assert.Len(t, l.alarms(), 1, what) {
			f = l.alarms()[0]
			assert.Equal(t, r.told, f.Kind, what)
			assert.GreaterOrEqual(t, daysUntil(f.Raised), rowDay, what)
			assert.LessOrEqual(t, daysUntil(f.Raised), rowDay+max(r.within, 1), what)
		}
		if r.also != nil && (r.told == "" || f.Kind == r.told) {
			r.also(t, what, l, f)
		}
	}
}
