package daemon

import (
	"math"
	"sync/atomic"
	"time"

	"ductward/internal/shop"
)

// The schedule of what is recorded, the same live and in history.
const (
	// restAfter is how long a fan must have stood until its sensors are recorded sparsely: a minute to run down, two of
	// still air for the zero, and one more.
	restAfter = 4 * time.Minute
	// restInterval is the time between records of a sensor at rest.
	restInterval = time.Minute
	// beat is how often a switch that does not move is recorded again, so that a part of the record tells where it
	// stood without all that went before.
	beat = 15 * time.Minute
	// stirs is the pressure that says that a fan may have started where no switch tells: less than package steady takes
	// for a fan that surely stands, 25 Pa, and more than a draught.
	stirs = 20.0
)

// fan is what the schedule knows of one collector's fan.
type fan struct {
	stoodSince atomic.Int64 // monotonic ns since when it stands; -1: it runs, or is not known
}

func newFan() *fan {
	f := &fan{}
	f.stoodSince.Store(-1)
	return f
}

// see notes whether the fan stands at mono.
func (f *fan) see(stands bool, mono time.Duration) {
	switch {
	case !stands:
		f.stoodSince.Store(-1)
	case f.stoodSince.Load() < 0:
		f.stoodSince.Store(int64(mono))
	}
}

// resting tells whether the sensors of the collector may be recorded sparsely.
func (f *fan) resting(mono time.Duration) bool {
	since := f.stoodSince.Load()
	return since >= 0 && mono-time.Duration(since) >= restAfter
}

// channel is one channel with what was recorded of it last. What was recorded belongs to the intake's lock.
type channel struct {
	name     string
	fan      *fan
	isSwitch bool
	ports    int  // the highest position of a switch
	byHand   bool // a switch that stands where a person last said
	ambient  bool // the room's absolute pressure, which some parts need to know
	tells    bool // tells whether the fan runs: its switch, or a pressure where there is none

	recorded time.Duration // monotonic; negative: never
	value    float64       // of a switch, as recorded; NaN: not known
	known    bool          // a switch has been recorded in this boot
}

// channelsOf lists the channels of a shop by name, and its fans.
func channelsOf(s *shop.Shop) (map[string]*channel, []*fan) {
	all, fans := map[string]*channel{}, []*fan{}
	for _, c := range s.Collectors {
		f := newFan()
		fans = append(fans, f)
		add := func(ch channel) {
			ch.fan, ch.recorded, ch.value = f, -1, math.NaN()
			all[ch.name] = &ch
		}
		add(channel{name: c.Name + "/fan", isSwitch: true, ports: 1, tells: c.FanSwitch != nil, byHand: byHand(c.FanSwitch)})
		for _, g := range c.Gates {
			add(channel{name: "gate/" + g.Name, isSwitch: true, ports: 1, byHand: byHand(g.Position)})
		}
		for _, sel := range c.Selectors {
			add(channel{name: "selector/" + sel.Name, isSwitch: true, ports: len(sel.Ports), byHand: byHand(sel.Position)})
		}
		for _, x := range c.Contacts {
			add(channel{name: shop.ContactChannel(x.Name), isSwitch: true, ports: 1})
		}
		teller := fanTeller(c)
		for _, sensor := range c.Sensors {
			add(channel{name: c.Name + "/" + sensor.Name, tells: sensor == teller,
				ambient: sensor.Measures == shop.BarometricPressure})
		}
	}
	return all, fans
}

func byHand(s *shop.Source) bool { return s != nil && s.Kind == shop.SourceByHand }

// fanTeller returns the sensor that tells whether the fan runs where no switch does: a static pressure, or else the
// filter's drop, as package steady has it.
func fanTeller(c *shop.Collector) *shop.Sensor {
	if c.FanSwitch != nil {
		return nil
	}
	for _, q := range []shop.Quantity{shop.StaticPressure, shop.FilterDrop} {
		for _, s := range c.Sensors {
			if s.Measures == q {
				return s
			}
		}
	}
	return nil
}

// due tells whether a value is to be recorded at mono, and keeps the fan's state.
func (c *channel) due(v float64, mono time.Duration) bool {
	if c.isSwitch {
		if c.tells {
			c.fan.see(v == 0, mono)
		}
		return !c.known || v != c.value && !(math.IsNaN(v) && math.IsNaN(c.value))
	}
	if c.tells {
		c.fan.see(math.Abs(v) < stirs, mono)
	}
	return !c.fan.resting(mono) || c.recorded < 0 || mono-c.recorded >= restInterval
}

// asleep tells whether a sensor need not be read at mono, since its value would not be recorded.
func (c *channel) asleep(mono, recorded time.Duration) bool {
	return !c.isSwitch && !c.tells && recorded >= 0 && mono-recorded < restInterval && c.fan.resting(mono)
}
