package trial

import (
	"fmt"
	"time"

	"ductward/internal/plant"
)

// World says when a shop's fan runs with every gate shut.
type World string

// The worlds.
const (
	Daily  World = "daily check" // some two minutes every morning
	Weekly World = "weekly test" // ten minutes after work on Fridays
	None   World = "no check"
)

// weeklyTest is how long the weekly test lasts.
const weeklyTest = 10 * time.Minute

// Setting is what a plant is put through: replicates of one setting differ by their seed alone.
type Setting struct {
	Scenario string  `json:"scenario"`
	Set      string  `json:"set"`
	World    World   `json:"world"`
	Hood     float64 `json:"hood"` // s.d. of the logarithm of a hood's loss from use to use
	Air      bool    `json:"air"`  // temperature and barometer are measured
}

// String names the setting.
func (s Setting) String() string {
	air := "air measured"
	if !s.Air {
		air = "air not measured"
	}
	return fmt.Sprintf("%s, set %s, %s, hoods %g %%, %s", s.Scenario, s.Set, s.World, 100*s.Hood, air)
}

// loadedAt is the filter resistance against clean at which the trials' shop cleans: past its limit, so that the day on
// which the limit is reached happens and can be compared with the forecast.
const loadedAt = 2.6

// options returns how the plant of a setting and a seed is built and worked in.
func (s Setting) options(seed uint64) (plant.Options, plant.WorkOptions) {
	o, w := plant.DefaultOptions(seed), plant.DefaultWork(seed, Start)
	o.HoodJitter = s.Hood
	w.Walk, w.Skipped = true, 0
	w.LoadingDays *= (loadedAt - 1) / (w.CleanAt - 1)
	w.CleanAt = loadedAt
	switch s.World {
	case Weekly:
		w.Closed, w.Test = plant.NeverClosed, weeklyTest
	case None:
		w.Closed = plant.NeverClosed
	}
	return o, w
}
