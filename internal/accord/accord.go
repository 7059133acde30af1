// Package accord holds what a collector's sensors read at one moment against what the model of its drawing says for the
// same gates, to find a file and a wiring that do not belong together: a sensor at another tap than the file says, two
// whose tubes or addresses are exchanged, a range that is wrong by a decimal.
//
// It finds gross mistakes only. Handbook coefficients are good to 15 to 30 % one at a time (common practice), so that a
// drawing of a sound shop is easily off by a third; a factor of two is a mistake. How much the filter has loaded is not
// known beforehand and is taken from its own drop. Pressures are gauge, SI.
package accord

import (
	"fmt"
	"math"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// factor is by how much a reading may differ from the model, up or down.
const factor = 2

// small is a pressure, in Pa, below which nothing is compared: there the factor is noise and zero.
const small = 30.0

// The resistances that a filter in use has against the clean one of the file: half for media that never seasoned, five
// times for one that is long due. Common practice, no source.
const (
	leastFilter = 0.5
	mostFilter  = 5
)

// Row is one sensor.
type Row struct {
	Channel  string
	Read     float64
	Expected float64 // with the filter as loaded as its drop says
	Compared bool    // both are large enough to be compared
	Fits     bool    // or was not compared
}

// Answer is what one collector comes to.
type Answer struct {
	Filter     float64 // resistance against the clean one that explains the filter's drop; NaN: its drop is not measured
	FilterFits bool
	Rows       []Row
	Exchanged  [2]string // two channels that would fit if each had the other's reading; "" for none
}

// Fine tells whether nothing speaks against file and wiring.
func (a *Answer) Fine() bool {
	for _, r := range a.Rows {
		if !r.Fits {
			return false
		}
	}
	return a.FilterFits
}

// Of compares the readings, by channel in SI, with the model at a setting. A reading that is NaN or missing is left out.
// It fails where the collector has no drawing or the state no solution.
func Of(c *shop.Collector, setting shop.Setting, state air.State, read map[string]float64) (*Answer, error) {
	if c.Network == nil {
		return nil, fmt.Errorf("collector %q has no drawing of its ducts to compare with", c.Name)
	}
	m, err := duct.New(c)
	if err != nil {
		return nil, err
	}
	st := duct.State{Setting: setting, Air: state, FanSpeed: 1, FilterRatio: 1}
	out := &Answer{Filter: math.NaN(), FilterFits: true}
	if drop := filterDrop(c, read); !math.IsNaN(drop) {
		if out.Filter, err = load(m, &st, drop); err != nil {
			return nil, err
		}
		out.FilterFits = out.Filter > leastFilter && out.Filter < mostFilter
	}
	r, err := m.Solve(st)
	if err != nil {
		return nil, err
	}
	out.compare(c, r, read)
	out.exchange()
	return out, nil
}

// filterDrop returns what the filter's sensor reads.
func filterDrop(c *shop.Collector, read map[string]float64) float64 {
	for _, s := range c.Sensors {
		if v, ok := read[c.ChannelOf(s.Name)]; ok && s.Measures == shop.FilterDrop {
			return v
		}
	}
	return math.NaN()
}

// load sets the filter's resistance so that its drop is the one that is read, within the resistances that are looked at.
// The drop rises with the resistance, so that the interval can be halved.
func load(m *duct.Model, st *duct.State, drop float64) (float64, error) {
	low, high := leastFilter, float64(mostFilter)
	for range 20 {
		st.FilterRatio = math.Sqrt(low * high)
		r, err := m.Solve(*st)
		if err != nil {
			return 0, err
		}
		if r.FilterDrop < drop {
			low = st.FilterRatio
		} else {
			high = st.FilterRatio
		}
	}
	switch {
	case low == leastFilter:
		st.FilterRatio = 1 // it explains nothing: do not let it spoil the others
		return leastFilter, nil
	case high == mostFilter:
		st.FilterRatio = 1
		return mostFilter, nil
	}
	return st.FilterRatio, nil
}

func (a *Answer) compare(c *shop.Collector, r *duct.Result, read map[string]float64) {
	for _, s := range r.Sensors {
		v, ok := read[s.Channel]
		if !ok || math.IsNaN(v) {
			continue
		}
		row := Row{Channel: s.Channel, Read: v, Expected: s.Value, Fits: true}
		if sensor := sensorOf(c, s.Channel); sensor != nil && isPressure(sensor.Measures) {
			row.Compared = math.Max(math.Abs(v), math.Abs(s.Value)) >= small
			row.Fits = !row.Compared || fits(v, s.Value)
		}
		a.Rows = append(a.Rows, row)
	}
}

// fits tells whether two pressures have one sign and differ by less than the factor.
func fits(read, expected float64) bool {
	ratio := read / expected
	return ratio > 1.0/factor && ratio < factor
}

// exchange looks for two pressures that do not fit where they are and would where the other is.
func (a *Answer) exchange() {
	for i, one := range a.Rows {
		for _, two := range a.Rows[i+1:] {
			both := one.Compared && two.Compared && (!one.Fits || !two.Fits)
			if both && fits(math.Abs(one.Read), math.Abs(two.Expected)) && fits(math.Abs(two.Read), math.Abs(one.Expected)) {
				a.Exchanged = [2]string{one.Channel, two.Channel}
			}
		}
	}
}

func sensorOf(c *shop.Collector, channel string) *shop.Sensor {
	for _, s := range c.Sensors {
		if c.ChannelOf(s.Name) == channel {
			return s
		}
	}
	return nil
}

func isPressure(q shop.Quantity) bool {
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
		return true
	}
	return false
}
