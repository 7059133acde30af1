package estimate

import (
	"maps"
	"math"

	"ductward/internal/air"
	"ductward/internal/duct"
)

// ductState translates a state into the duct model's.
func (v *viewer) ductState(g *gateSet, s *state, a air.State) duct.State {
	st := duct.State{
		Setting:     g.setting,
		Air:         a,
		FilterRatio: math.Exp(s.logFilter),
		LossFactor:  math.Exp(s.globals.factors[globalLoss]),
		LeakFactor:  math.Exp(s.globals.factors[globalLeak]),
		FanFactor:   math.Exp(s.globals.factors[globalFan]),
		FanSpeed:    1,
		Blocked:     maps.Clone(s.globals.built.drops),
		Choked:      maps.Clone(s.globals.built.trunk),
		Mixing:      s.globals.built.mixing,
		Standing:    s.globals.built.stands,
		Trickle:     s.globals.built.little,
	}
	if s.params == nil {
		return st
	}
	for i := range v.cols.zones {
		if q := s.params[i]; q != 0 {
			v.addLeak(&st, i, q)
		}
	}
	for i, m := range v.cols.machines {
		if b := s.params[v.cols.block0+i]; b != 0 {
			st.Blocked = times(st.Blocked, m, math.Exp(b))
		}
	}
	for i, r := range v.cols.trunk {
		if b := s.params[v.cols.choke0+i]; b != 0 {
			st.Choked = times(st.Choked, r, math.Exp(b))
		}
	}
	st.PastFilter = max(s.params[v.cols.tear], 0)
	st.FanSpeed = math.Exp(s.params[v.cols.fan])
	if v.cols.metered() {
		st.FanFactor *= math.Exp(s.params[v.cols.fan+1])
	}
	st.Throttle = math.Exp(s.params[v.cols.gain0-1])
	return st
}

// times puts a factor upon what stands under a name.
func times(m map[string]float64, name string, factor float64) map[string]float64 {
	if m == nil {
		m = map[string]float64{}
	}
	if have, ok := m[name]; ok {
		factor *= have
	}
	m[name] = factor
	return m
}

// addLeak puts the leak of a zone into the duct model's state.
func (v *viewer) addLeak(st *duct.State, zone int, q float64) {
	k := &v.cols
	if k.isRepeat(zone) {
		v.addLeak(st, k.straddle[0], q/2)
		v.addLeak(st, k.straddle[1], q/2)
		return
	}
	st.Leaks = append(st.Leaks, duct.Leak{Part: k.zones[zone], Flow: q, Exponent: leakExponent})
}
