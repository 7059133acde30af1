package trial

import (
	_ "embed" // the shop's file
	"fmt"
	"slices"
	"strings"

	"ductward/internal/shop"
)

//go:embed shop.yaml
var shopFile []byte

// Sets are the sensor sets that the trials compare, from the least to the most.
var Sets = []string{"A", "B", "C", "D"}

// fittedSensors names the pressure sensors of each set.
var fittedSensors = map[string][]string{
	"A": {"filter drop", "trunk static"},
	"B": {"filter drop", "trunk static", "trunk velocity"},
	"C": {"filter drop", "trunk static", "trunk velocity", "far static"},
	"D": {"filter drop", "trunk static", "trunk velocity", "far static", "middle static"},
}

// airSensors are those of the room's air.
var airSensors = []string{"air", "barometer"}

// Shop returns the trials' own shop with the sensors of a set, and with those of the room's air or without.
func Shop(set string, air bool) (*shop.Shop, error) {
	keep, ok := fittedSensors[set]
	if !ok {
		return nil, fmt.Errorf("no sensor set %q: write some of %s", set, strings.Join(Sets, ", "))
	}
	if air {
		keep = append(slices.Clone(keep), airSensors...)
	}
	s, problems := shop.Parse("shop.yaml", shopFile)
	if err := shop.Errors(problems); err != nil {
		return nil, err
	}
	c := s.Collectors[0]
	c.Sensors = slices.DeleteFunc(c.Sensors, func(f *shop.Sensor) bool { return !slices.Contains(keep, f.Name) })
	return s, nil
}
