package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/store"
)

// openStore opens a store that is there already, and tells what there is to tell about it.
func openStore(dir string, tell io.Writer) (*store.Store, error) {
	if _, err := os.Stat(filepath.Join(dir, store.FileName)); err != nil {
		return nil, fmt.Errorf("there is no store in %q: name its folder with --data: %w", dir, err)
	}
	st, err := store.Open(dir, store.Options{})
	if err != nil {
		return nil, err
	}
	for _, n := range st.Notices() {
		fmt.Fprintf(tell, "store: %s\n", n.Text)
	}
	return st, nil
}

// storedShops returns the shops of a store, the newest first. A shop file that this program does not take any more is
// left out.
func storedShops(st *store.Store) ([]*shop.Shop, error) {
	stored, err := st.Shops()
	if err != nil {
		return nil, err
	}
	var shops []*shop.Shop
	for i := len(stored) - 1; i >= 0; i-- {
		if s, _ := shop.Parse("stored shop file", stored[i].Raw); s != nil {
			shops = append(shops, s)
		}
	}
	return shops, nil
}

// siUnits names the SI unit of a channel as the newest shop that has it measures it.
func siUnits(shops []*shop.Shop) func(channel string) string {
	known := make(map[string]string)
	return func(channel string) string {
		if reading.IsSwitch(channel) {
			return ""
		}
		unit, ok := known[channel]
		if ok {
			return unit
		}
		unit = "1"
		for _, s := range shops {
			if _, sensor := s.SensorOf(channel); sensor != nil {
				unit = sensor.Measures.Unit()
				break
			}
		}
		known[channel] = unit
		return unit
	}
}

// parseMoment reads a moment or a day, which begins at midnight where the shop is. The empty text is no bound.
func parseMoment(flag, s string, shops []*shop.Shop) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.RFC3339, s); err == nil {
		return t, nil
	}
	where := time.UTC
	if len(shops) > 0 {
		where = shops[0].Site.Location
	}
	t, err := time.ParseInLocation(time.DateOnly, s, where)
	if err != nil {
		return time.Time{}, usage("%s %q: write a day as 2026-03-01, or a moment as 2026-03-01T07:00:00+01:00", flag, s)
	}
	return t, nil
}

// knownTo refuses a channel that the store does not have: an empty file would say that nothing was read.
func knownTo(st *store.Store, channels []string) error {
	latest := st.Latest()
	for _, c := range channels {
		if _, ok := latest[c]; !ok {
			return usage("--channel %q: the store has no readings of it; it has %s", c, quoted(latest))
		}
	}
	return nil
}
