package main

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/quantity"
	"ductward/internal/shop"
)

// leakExponent is the exponent of a seam, by which a leak that is given at one suction is carried to the reference
// suction (SMACNA, HVAC Air Duct Leakage Test Manual, 1985).
const leakExponent = 0.65

// airflowStates turns the command line into the state of each collector that has a drawing, by collector name. A name
// that no collector has is wrong use.
func airflowStates(s *shop.Shop, f airflowFlags) (map[string]duct.State, error) {
	if err := positive("--filter-resistance", f.filter); err != nil {
		return nil, err
	}
	if err := positive("--speed", f.speed); err != nil {
		return nil, err
	}
	state, err := parseAir(s.Site, f.air)
	if err != nil {
		return nil, err
	}
	open, err := assignOpen(s, f.open)
	if err != nil {
		return nil, err
	}
	states := make(map[string]duct.State)
	for _, c := range s.Collectors {
		if c.Network == nil {
			continue
		}
		setting, err := c.SettingFor(open[c.Name])
		if err != nil {
			return nil, &coded{exitUse, err}
		}
		states[c.Name] = duct.State{Setting: setting, Air: state, FanSpeed: f.speed, FilterRatio: f.filter}
	}
	if err := assignLeaks(s, states, f.leaks); err != nil {
		return nil, err
	}
	return states, assignBlocked(s, states, f.blocked)
}

// assignOpen gives each name of --open to the collector that knows it. "COLLECTOR/NAME" says which.
func assignOpen(s *shop.Shop, names []string) (map[string][]string, error) {
	open := make(map[string][]string)
	for _, n := range names {
		n = strings.TrimSpace(n)
		if n == "" {
			continue
		}
		var owners []string
		var last error
		for _, c := range s.Collectors {
			local := strings.TrimPrefix(n, c.Name+"/")
			if _, err := c.SettingFor([]string{local}); err != nil {
				last = err
				continue
			}
			owners = append(owners, c.Name)
			open[c.Name] = append(open[c.Name], local)
		}
		switch len(owners) {
		case 0:
			return nil, &coded{exitUse, last}
		case 1:
		default:
			return nil, usage("--open %q: collectors %s all have one; write %q", n, strings.Join(owners, ", "), owners[0]+"/"+n)
		}
	}
	return open, nil
}

// assignLeaks adds each --leak to the collector that has the part, carried to that collector's reference suction.
func assignLeaks(s *shop.Shop, states map[string]duct.State, leaks []string) error {
	for _, l := range leaks {
		part, value, err := cut("leak", l, "PART=FLOW@SUCTION, for example run:main=0.0025m3/s@1500Pa")
		if err != nil {
			return err
		}
		c, err := ownerOf(s, "leak", l, part, (*duct.Model).LeakParts)
		if err != nil {
			return err
		}
		flow, err := parseLeak(value, c.Alarms.ReferenceSuction)
		if err != nil {
			return usage("--leak %q: %w", l, err)
		}
		st := states[c.Name]
		st.Leaks = append(st.Leaks, duct.Leak{Part: part, Flow: flow})
		states[c.Name] = st
	}
	return nil
}

// ownerOf finds the collector whose model has a part.
func ownerOf(s *shop.Shop, flag, whole, part string, parts func(*duct.Model) []string) (*shop.Collector, error) {
	var known []string
	for _, c := range s.Collectors {
		if c.Network == nil {
			continue
		}
		m, err := duct.New(c)
		if err != nil {
			return nil, err
		}
		if slices.Contains(parts(m), part) {
			return c, nil
		}
		known = append(known, parts(m)...)
	}
	return nil, usage("--%s %q: there is no part %q; there are %s", flag, whole, part, strings.Join(known, ", "))
}

// parseLeak reads "FLOW@SUCTION" and returns the flow in m³/s at the reference suction, in Pa. A flow alone is meant
// there.
func parseLeak(s string, reference float64) (float64, error) {
	flowText, suctionText, given := strings.Cut(s, "@")
	flow, err := quantity.Parse(quantity.Flow, flowText)
	if err != nil || !given {
		return flow, err
	}
	suction, err := quantity.Parse(quantity.Pressure, suctionText)
	if err != nil {
		return 0, err
	}
	if suction <= 0 {
		return 0, usage("suction %q is not above zero; write its size, as 1500Pa", suctionText)
	}
	return flow * math.Pow(reference/suction, leakExponent), nil
}

// assignBlocked sets the factor on the loss of each machine's drop.
func assignBlocked(s *shop.Shop, states map[string]duct.State, blocked []string) error {
	for _, b := range blocked {
		machine, value, err := cut("blocked", b, "MACHINE=FACTOR, for example saw=1.4")
		if err != nil {
			return err
		}
		factor, err := strconv.ParseFloat(value, 64)
		if err != nil {
			return usage("--blocked %q: %q is not a number; write a factor as 1.4", b, value)
		}
		if err := positive("--blocked "+machine, factor); err != nil {
			return err
		}
		c, err := collectorOfMachine(s, machine)
		if err != nil {
			return usage("--blocked %q: %w", b, err)
		}
		st := states[c.Name]
		if st.Blocked == nil {
			st.Blocked = make(map[string]float64)
		}
		st.Blocked[machine] = factor
		states[c.Name] = st
	}
	return nil
}

// collectorOfMachine finds the collector, among those with a drawing, that serves a machine.
func collectorOfMachine(s *shop.Shop, machine string) (*shop.Collector, error) {
	var known []string
	for _, c := range s.Collectors {
		if c.Network == nil {
			continue
		}
		for _, m := range c.Machines {
			if m.Name == machine {
				return c, nil
			}
			known = append(known, m.Name)
		}
	}
	return nil, usage("there is no machine %q; there are %s", machine, strings.Join(known, ", "))
}

// parseAir reads "TEMPERATURE,PRESSURE,HUMIDITY". The empty text means the air of the site.
func parseAir(site shop.Site, s string) (air.State, error) {
	if s == "" {
		return air.At(site.Temperature, air.PressureAt(site.Altitude), site.Humidity)
	}
	parts := strings.Split(s, ",")
	if len(parts) != 3 {
		return air.State{}, usage("--air %q: write temperature, absolute pressure and humidity, as 20C,101325Pa,50%%", s)
	}
	kinds := []quantity.Kind{quantity.Temperature, quantity.Pressure, quantity.Humidity}
	var v [3]float64
	for i, k := range kinds {
		x, err := quantity.Parse(k, strings.TrimSpace(parts[i]))
		if err != nil {
			return air.State{}, usage("--air %q: %w", s, err)
		}
		v[i] = x
	}
	state, err := air.At(v[0], v[1], v[2])
	if err != nil {
		return air.State{}, usage("--air %q: %w", s, err)
	}
	return state, nil
}

// positive refuses a factor that is not a finite number above zero.
func positive(what string, v float64) error {
	if v > 0 && !math.IsInf(v, 0) {
		return nil
	}
	return usage("%s %g: a factor is a number above 0, and 1 means unchanged", what, v)
}
