package trial

import (
	"math"
	"time"

	"ductward/internal/plant"
	"ductward/internal/shop"
)

// Bound returns the standard error that nobody can better when the size of a leak is to be told from a record, in m³/s:
// the information bound of its closed checks. With every gate shut the filter is a flow meter that reads leakage alone;
// running with gates open adds next to nothing to that. Its parts are, for each check, the zero of the filter's sensor
// and the turbulence that is left in the mean; and for the record as a whole what no number of checks can lower, the
// sensors' gains and the exponent of the leak between the suction of the check and the reference.
func Bound(r *Record, days int, leak *Leak) (float64, error) {
	p, err := plant.New(r.Collector, r.Shop.Site, plant.Exact())
	if err != nil {
		return 0, err
	}
	w, err := plant.NewWorkdays(r.Collector, r.Work)
	if err != nil {
		return 0, err
	}
	drop := channelOf(r.Collector, shop.FilterDrop)
	p.SetFan(true)
	for _, g := range r.Collector.Gates {
		if err := p.SetGate(g.Name, false); err != nil {
			return 0, err
		}
	}
	var before, after float64 // information, in (s/m³)²
	for d := range days {
		for _, check := range closedChecks(r.Collector, w.Day(d)) {
			p.SetFilterRatio(w.FilterAt(d))
			info, err := checkInformation(p, drop, check, leak, r.Plant)
			if err != nil {
				return 0, err
			}
			if d >= leak.Day {
				after += info
			} else {
				before += info
			}
		}
	}
	suction := closedSuction(p, r.Collector)
	// the gain of the velocity sensor goes into flow by its root, and of the exponent no more is known than that it lies
	// between a hole's ½ and a seam's 0.65
	exponent := (0.65 - 0.5) / math.Sqrt(12) * math.Log(suction/1500)
	scale := math.Hypot(r.Plant.Gain/2, exponent)
	return math.Sqrt(1/before + 1/after + math.Pow(scale*leak.Flow, 2)), nil
}

// channelOf returns the channel of the first sensor of a quantity.
func channelOf(c *shop.Collector, q shop.Quantity) string {
	for _, s := range c.Sensors {
		if s.Measures == q {
			return c.Name + "/" + s.Name
		}
	}
	return ""
}

// closedSuction returns the suction in the ducts with every gate shut, in Pa.
func closedSuction(p *plant.Plant, c *shop.Collector) float64 {
	return math.Abs(p.Mean(channelOf(c, shop.StaticPressure)))
}

// closedChecks returns how long each stretch of a day with the fan on and every gate shut lasted, the settling left out.
func closedChecks(c *shop.Collector, events []plant.Event) []time.Duration {
	const settling = 20 * time.Second
	open := map[string]bool{}
	fan := false
	var since time.Duration
	var out []time.Duration
	for _, e := range events {
		was := fan && len(open) == 0
		switch e.Kind {
		case plant.FanEvent:
			fan = e.On
		case plant.GateEvent:
			delete(open, e.Name)
			if e.On {
				open[e.Name] = true
			}
		}
		is := fan && len(open) == 0
		switch {
		case is && !was:
			since = e.At
		case was && !is && e.At-since > 2*settling:
			out = append(out, e.At-since-settling)
		}
	}
	return out
}

// checkInformation returns the information that one closed check brings on the leak's flow.
func checkInformation(p *plant.Plant, drop string, check time.Duration, leak *Leak, o plant.Options) (float64, error) {
	if err := p.SetLeak(leak.Part, 0); err != nil {
		return 0, err
	}
	tight := p.Mean(drop)
	if err := p.SetLeak(leak.Part, leak.Flow); err != nil {
		return 0, err
	}
	slope := (p.Mean(drop) - tight) / leak.Flow // Pa per m³/s
	turbulence := math.Hypot(o.FilterNoise, o.FilterShare*tight)
	correlation := (o.NoiseTime[0] + o.NoiseTime[1]) / 2
	variance := o.ZeroDay*o.ZeroDay + turbulence*turbulence*2*correlation/check.Seconds()
	return slope * slope / variance, nil
}
