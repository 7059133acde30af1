package duct_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// A drawing that cannot be solved is refused with the name of what is wrong.
func TestDrawingsThatCannotBe(t *testing.T) {
	run := func(c *shop.Collector, name string) *shop.Run {
		for _, r := range c.Network.Runs {
			if r.Name == name {
				return r
			}
		}
		return nil
	}
	for says, spoil := range map[string]func(c *shop.Collector){
		"has none":                     func(c *shop.Collector) { c.Network = nil },
		"no runs":                      func(c *shop.Collector) { c.Network.Runs = nil },
		`"left side": diameter 0`:      func(c *shop.Collector) { run(c, "left side").Diameter = 0 },
		`"left side": diameter NaN`:    func(c *shop.Collector) { run(c, "left side").Diameter = math.NaN() },
		`named "trunk"`:                func(c *shop.Collector) { run(c, "left end").Name = "trunk" },
		`junction "nowhere"`:           func(c *shop.Collector) { run(c, "left end").To.Name = "nowhere" },
		`gate "no gate"`:               func(c *shop.Collector) { run(c, "left end").Gate = "no gate" },
		"no run ends at the collector": func(c *shop.Collector) { run(c, "trunk").To = shop.End{} },
		"not joined to the collector": func(c *shop.Collector) {
			run(c, "tenoner drop").To = shop.End{}
		},
		"turn it round": func(c *shop.Collector) { run(c, "trunk").From = shop.End{Kind: shop.EndCollector} },
		`wye "near": straight run "trunk"`: func(c *shop.Collector) {
			j := c.Network.Junctions[2]
			j.Kind, j.Angle, j.Straight, j.Branch = shop.Wye, 0.7, "trunk", "right side"
		},
		`wye "near" joins 4 runs`: func(c *shop.Collector) {
			j := c.Network.Junctions[2]
			j.Kind, j.Angle, j.Straight, j.Branch = shop.Wye, 0.7, "left end", "right side"
			run(c, "moulder drop").To.Name = "near"
		},
		`wye "near": angle -1`: func(c *shop.Collector) {
			j := c.Network.Junctions[2]
			j.Kind, j.Angle, j.Straight, j.Branch = shop.Wye, -1, "left end", "right side"
		},
		"clean drop": func(c *shop.Collector) { c.Filter.CleanDrop = math.NaN() },
		"fan":        func(c *shop.Collector) { c.Fan = shop.Fan{} },
		"its tap is in run": func(c *shop.Collector) {
			c.Sensors = []*shop.Sensor{{Name: "s", Measures: shop.StaticPressure, Run: "nowhere"}}
		},
	} {
		c := ringMain()
		spoil(c)
		_, err := duct.New(c)
		assert.ErrorContains(t, err, says)
	}
	_, err := duct.New(nil)
	assert.Error(t, err)
}

// A state that makes no sense is refused with the name of what brought it.
func TestStatesThatCannotBe(t *testing.T) {
	m := model(t, ringMain())
	for says, st := range map[string]duct.State{
		"air has density":              {Air: air.State{Density: math.NaN(), Viscosity: 1}},
		"fan speed ratio is -1":        {FanSpeed: -1},
		"filter resistance ratio":      {FilterRatio: math.Inf(1)},
		"loss factor is NaN":           {LossFactor: math.NaN()},
		`no gate "window"`:             {Setting: shop.Setting{Open: map[string]bool{"window": true}}},
		`no selector "window"`:         {Setting: shop.Setting{Port: map[string]int{"window": 1}}},
		`no leak part "window"`:        {Leaks: []duct.Leak{{Part: "window", Flow: 1}}},
		`leak at "run:trunk"`:          {Leaks: []duct.Leak{{Part: "run:trunk", Flow: math.NaN()}}},
		`no machine "window"`:          {Blocked: map[string]float64{"window": 1}},
		`drop of "moulder" is blocked`: {Blocked: map[string]float64{"moulder": 0}},
		`no wye "window"`:              {Mixing: map[string]float64{"window": 0.1}},
		`no leg of a wye "window"`:     {Standing: map[string]float64{"window": 0.1}},
		`no leg of a wye "wall"`:       {Trickle: map[string]float64{"wall": 0.1}},
	} {
		_, err := m.Solve(st)
		assert.ErrorContains(t, err, says)
	}
}
