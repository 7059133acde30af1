package main

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// move is a gate that is opened or shut, or the fan that is switched.
type move struct {
	at      time.Duration // since midnight
	machine int           // -1: the fan
	on      bool
}

// habits are how people work.
type habits struct {
	check  string // when the fan runs with every gate shut: none, daily, weekly, odd
	second float64
}

const (
	morning = 7*time.Hour + 30*time.Minute
	evening = 15*time.Hour + 30*time.Minute
)

// dayMoves draws a day's work: one person goes from machine to machine, often a second one too. Gates are moved within seconds of
// each other, and the fan stops where nothing is open for a while.
func (p *plant) dayMoves(r *rand.Rand, h habits, weekday time.Weekday) []move {
	var out []move
	use := func(from, to time.Duration) {
		for at := from; at < to; {
			m := r.IntN(len(p.machines))
			last := min(at+minutes(3+22*r.Float64()), to)
			out = append(out, move{at, m, true}, move{last, m, false})
			at = last + seconds(-12+30*r.Float64())
			if r.IntN(4) == 0 {
				at += minutes(8 * r.Float64())
			}
		}
	}
	noon := 12 * time.Hour
	use(morning+minutes(10*r.Float64()), noon)
	use(noon+minutes(30+10*r.Float64()), evening)
	for at := morning + time.Hour; at < evening-time.Hour; at += time.Hour {
		if r.Float64() < h.second && (at < noon-50*time.Minute || at > noon+45*time.Minute) {
			from := at + minutes(30*r.Float64())
			m := r.IntN(len(p.machines))
			out = append(out, move{from, m, true}, move{from + minutes(3+12*r.Float64()), m, false})
		}
	}
	out = p.withFan(out)
	if from, long, ok := h.checkOn(r, weekday); ok {
		out = append(out, move{from, -1, true}, move{from + long, -1, false})
	}
	return out
}

// checkOn tells when a day's test is made, after work or before it.
func (h habits) checkOn(r *rand.Rand, d time.Weekday) (from, long time.Duration, ok bool) {
	after := evening + 12*time.Minute
	switch h.check {
	case "daily":
		return after, 2*time.Minute + 20*time.Second, r.IntN(10) > 0
	case "weekly":
		return after, 10 * time.Minute, d == time.Friday
	case "odd":
		if r.IntN(2) == 0 {
			after = 7*time.Hour + minutes(15*r.Float64())
		}
		return after, minutes(2.2 + 4*r.Float64()), r.IntN(3) == 0
	}
	return 0, 0, false
}

// withFan lets no gate be opened twice, and adds the fan's own moves: on with the first gate, off a little after the last.
func (p *plant) withFan(moves []move) []move {
	slices.SortStableFunc(moves, func(a, b move) int { return int(a.at - b.at) })
	users := make([]int, len(p.machines))
	open := 0
	var out []move
	var idleSince time.Duration = -1
	running := false
	for _, m := range moves {
		if idleSince >= 0 && running && m.at > idleSince+25*time.Second {
			out = append(out, move{idleSince + 20*time.Second, -1, false})
			running = false
		}
		if m.on {
			users[m.machine]++
			if users[m.machine] > 1 {
				continue
			}
			out = append(out, m)
			open++
			idleSince = -1
			if !running {
				out = append(out, move{m.at + 2*time.Second, -1, true})
				running = true
			}
			continue
		}
		users[m.machine]--
		if users[m.machine] > 0 {
			continue
		}
		out = append(out, m)
		if open--; open == 0 {
			idleSince = m.at
		}
	}
	if running {
		out = append(out, move{idleSince + 20*time.Second, -1, false})
	}
	return out
}

func minutes(x float64) time.Duration { return time.Duration(x * float64(time.Minute)) }
func seconds(x float64) time.Duration { return time.Duration(x * float64(time.Second)) }

// wander is a value that comes back to 0: an autoregression of the first order, by step.
type wander struct{ value, sd, keep float64 }

func (w *wander) step(r *rand.Rand) float64 {
	w.value = w.keep*w.value + math.Sqrt(1-w.keep*w.keep)*w.sd*r.NormFloat64()
	return w.value
}

// weather is the room's air.
type weather struct {
	barometer, warmth wander // Pa about the mean, K about the season
}

const meanBarometer = 100600.0 // Pa, at 60 m (ISO 2533, from memory)

// at returns temperature in °C, barometer in Pa and density. Moist air is lighter by a few thousandths, which is left out.
func (w *weather) at(day int, hour float64) (celsius, pascal, rho float64) {
	celsius = 18 + 5*math.Sin(2*math.Pi*float64(day)/365) + w.warmth.value + 0.4*(hour-11)
	pascal = meanBarometer + w.barometer.value
	return celsius, pascal, pascal / 287.05 / (celsius + 273.15)
}
