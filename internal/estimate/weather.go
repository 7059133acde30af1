package estimate

import (
	"math"
	"slices"
	"time"

	"ductward/internal/air"
	"ductward/internal/steady"
)

// weather says which of the quantities that make the air's density were measured.
type weather struct{ temperature, barometer bool }

// usual is the mean of a quantity of the air over the runs that measured it: what is assumed when its sensor falls silent.
// Before any has, it is what the shop file says.
type usual struct {
	mean float64
	runs float64
}

// usualRuns is over how many runs the mean goes back: some weeks.
const usualRuns = 500.0

func (u *usual) see(x float64) {
	u.runs = min(u.runs+1, usualRuns)
	u.mean += (x - u.mean) / u.runs
}

func (u *usual) or(x float64) float64 {
	if u.runs > 0 {
		return u.mean
	}
	return x
}

// measured tells which sensors of the air read in a run.
func (e *Estimator) measured(r *steady.Run) weather {
	return weather{channelOf(r, e.temperature) != nil, channelOf(r, e.barometer) != nil}
}

// breathe takes in what a run measured of the air.
func (e *Estimator) breathe(r *steady.Run) {
	if s := channelOf(r, e.temperature); s != nil {
		e.usualTemperature.see(s.Mean)
	}
	if s := channelOf(r, e.barometer); s != nil {
		e.usualPressure.see(s.Mean)
	}
}

// airOf returns the air of a run: what was measured, else what is usual, else what the shop file assumes.
func (e *Estimator) airOf(r *steady.Run) air.State {
	t, p := e.usualTemperature.or(e.site.Temperature), e.usualPressure.or(air.PressureAt(e.site.Altitude))
	h := e.site.Humidity
	if s := channelOf(r, e.temperature); s != nil {
		t = s.Mean
	}
	if s := channelOf(r, e.barometer); s != nil {
		p = s.Mean
	}
	if s := channelOf(r, e.humidity); s != nil {
		h = s.Mean
	}
	a, err := air.At(t, p, h)
	if err != nil { // a sensor that reads nonsense: the shop's own assumption stands
		a, _ = air.At(e.site.Temperature, air.PressureAt(e.site.Altitude), e.site.Humidity)
	}
	return a
}

// lendAir gives the runs before the day's first reading of the air, and those in its gaps, the air of the nearest run that has
// one: a thermometer that reads twice an hour says of a morning's first run what it says of the next.
func (e *Estimator) lendAir(obs []observation) {
	channels := []string{e.temperature, e.barometer, e.humidity}
	for i := range obs {
		run := *obs[i].run
		for _, ch := range channels {
			if ch == "" || channelOf(&run, ch) != nil {
				continue
			}
			if s := nearest(obs, i, ch); s != nil {
				run.Channels = append(slices.Clip(run.Channels), *s)
			}
		}
		if len(run.Channels) > len(obs[i].run.Channels) {
			obs[i].air, obs[i].known = e.airOf(&run), e.measured(&run)
		}
	}
}

// lent is over how long a time the air of one run is lent to another.
const lent = 2 * time.Hour

// nearest returns what the run that is nearest in time to run i read of a channel, nil where none is near.
func nearest(obs []observation, i int, channel string) *steady.Summary {
	var out *steady.Summary
	least := lent
	for j := range obs {
		if obs[j].run.Boot != obs[i].run.Boot {
			continue
		}
		far := (obs[j].run.End - obs[i].run.End).Abs()
		if s := channelOf(obs[j].run, channel); s != nil && far <= least {
			out, least = s, far
		}
	}
	return out
}

// weatherOf tells what was measured in all runs of a day.
func weatherOf(obs []observation) weather {
	w := weather{len(obs) > 0, len(obs) > 0}
	for i := range obs {
		w.temperature = w.temperature && obs[i].known.temperature
		w.barometer = w.barometer && obs[i].known.barometer
	}
	return w
}

// densityError returns the relative standard error of the density that airOf gives, in the mean of n days times √n; n = 0
// of many.
func (w weather) densityError(n int) float64 {
	t, p, measured := unknownWarmth/usualRoom, unknownWeather, 0.0 // a sensor's error does not last for days as the weather does
	if w.temperature {
		t, measured = 0, math.Hypot(measured, readWarmth/usualRoom)
	}
	if w.barometer {
		p, measured = 0, math.Hypot(measured, readWeather)
	}
	t *= math.Sqrt(spanFactor(n, seasonCorrelation))
	return math.Hypot(math.Hypot(math.Sqrt(spanFactor(n, weatherCorrelation))*math.Hypot(p, unknownDamp), t), measured)
}

const (
	// unknownWeather is the weather's 9 hPa, over the air's pressure (common practice, no source).
	unknownWeather = 0.009
	// unknownDamp is what a relative humidity that is 15 % otherwise than assumed makes of the density: of 2.6 kPa, which saturate air
	// at 22 °C, 0.378 of the share in the air's pressure (World Meteorological Organization, Guide to Instruments, Annex 4.B).
	unknownDamp = 0.0015
	// What a sensor that is read is off by otherwise than in the baseline: a thermometer by how the room's air lies in layers, a
	// barometer by a tenth of a hectopascal or few (both common practice, no source).
	readWarmth    = 0.6    // K
	readWeather   = 0.0005 // of the air's pressure
	unknownWarmth = 6.0    // K, of season and of how the shop is heated, which nobody measures (common practice, no source)
	usualRoom     = 291.0  // K
)

// viscosityError returns the relative standard error of the air's viscosity, which goes with the 0.7th power of the temperature
// (White, Viscous Fluid Flow, table 1-2, from memory): as much passes for the filter's resistance.
func (e *Estimator) viscosityError() float64 {
	if e.thermometer {
		return 0
	}
	return 0.7 * unknownWarmth / usualRoom
}
