package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"ductward/internal/quantity"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// unitsOf returns what converts the values of a file to SI for the channels of a shop. A channel that the shop does not
// have is a mistake of the file, or of the shop file.
func unitsOf(s *shop.Shop) reading.Units {
	kinds := make(map[string]quantity.Kind)
	for _, c := range s.Collectors {
		for _, n := range c.Sensors {
			kinds[c.ChannelOf(n.Name)] = n.Measures.Kind()
		}
	}
	convert := make(map[[2]string]func(float64) float64) // by channel and unit
	return func(channel, unit string, v float64) (float64, error) {
		key := [2]string{channel, unit}
		if f := convert[key]; f != nil {
			return f(v), nil
		}
		kind, ok := kinds[channel]
		if !ok {
			return 0, fmt.Errorf("the shop has no channel %q; it has %s", channel, strings.Join(s.Channels(), ", "))
		}
		f, err := parseUnit(kind, unit)
		if err != nil {
			return 0, fmt.Errorf("channel %q: %w", channel, err)
		}
		convert[key] = f
		return f(v), nil
	}
}

// parseUnit finds a unit of a kind. "1" is the SI unit of a ratio, which the shop file writes in per cent.
func parseUnit(kind quantity.Kind, unit string) (func(float64) float64, error) {
	if unit == "1" && (kind == quantity.Ratio || kind == quantity.Humidity) {
		return func(v float64) float64 { return v }, nil
	}
	return quantity.ParseUnit(kind, unit)
}

// knownChannels tells which channels a shop has, so that switches are checked as sensors are.
func knownChannels(s *shop.Shop) map[string]bool {
	known := make(map[string]bool)
	for _, c := range s.Channels() {
		known[c] = true
	}
	return known
}

// quoted lists the names of channels in a fixed order.
func quoted(channels map[string]reading.Reading) string {
	if len(channels) == 0 {
		return "none at all"
	}
	var names []string
	for _, c := range slices.Sorted(maps.Keys(channels)) {
		names = append(names, fmt.Sprintf("%q", c))
	}
	return strings.Join(names, ", ")
}
