package duct

import (
	"maps"

	"ductward/internal/air"
	"ductward/internal/shop"
)

// State is everything that may change about a collector between one solve and the next. The zero value of a factor
// means 1, and the zero value of Air the reference air.
type State struct {
	Setting     shop.Setting
	Air         air.State
	FanSpeed    float64            // over the speed at which the fan runs, which is the curve's unless the shop says otherwise
	FilterRatio float64            // on the viscous part of the filter, over just cleaned
	Housing     float64            // Pa that the filter's housing loses beyond the shop file's, at the filter's clean flow of the reference air
	PastFilter  float64            // m³/s at ReferenceSuction that pass the filter's medium through a hole in it, or beside it
	LossFactor  float64            // on the losses of all runs
	LeakFactor  float64            // on the leakage as designed, of seams and seats
	FanFactor   float64            // on the fan's pressure rise
	Throttle    float64            // what a restriction right at the fan leaves of its rise at the filter's clean flow
	Leaks       []Leak             // beside the leakage as designed
	Blocked     map[string]float64 // by machine: on the loss of its drop, the hood and the runs up to the first joint
	Choked      map[string]float64 // by run: on its own loss, its hood left out
	Mixing      map[string]float64 // by junction: what the wye there takes from both streams beyond its law, see mixed
	Standing    map[string]float64 // by run that ends in a wye: what the wye takes from it for the other stream, see standing
	Trickle     map[string]float64 // by run that ends in a wye: what a little air from it takes beyond the law, see trickled
}

// clone is a copy that shares nothing with st.
func (st *State) clone() State {
	var out State
	out.become(st)
	return out
}

// become makes to a copy of st that shares nothing with it, in the memory that it has.
func (to *State) become(st *State) {
	open, port, leaks := to.Setting.Open, to.Setting.Port, to.Leaks
	blocked, choked := to.Blocked, to.Choked
	mixing, standing, trickle := to.Mixing, to.Standing, to.Trickle
	*to = *st
	to.Setting.Open = copied(open, st.Setting.Open)
	to.Setting.Port = copied(port, st.Setting.Port)
	to.Blocked = copied(blocked, st.Blocked)
	to.Choked = copied(choked, st.Choked)
	to.Mixing = copied(mixing, st.Mixing)
	to.Standing = copied(standing, st.Standing)
	to.Trickle = copied(trickle, st.Trickle)
	to.Leaks = append(leaks[:0], st.Leaks...)
}

// copied is a copy of a map, in the memory of another one that is no longer needed.
func copied[V any](into, from map[string]V) map[string]V {
	clear(into)
	if into == nil && len(from) > 0 {
		into = make(map[string]V, len(from))
	}
	maps.Copy(into, from)
	return into
}

// Leak is one leak beside those of the design.
type Leak struct {
	Part     string  // "run:NAME", "seat:GATE", "drop:GATE", "open-side:MACHINE" or "inlet:COLLECTOR"
	Flow     float64 // m³/s at the model's ReferenceSuction
	Exponent float64 // 0 for 0.65
}

// ParamKind says what a parameter is.
type ParamKind int

// The parameters to which readings are sensitive. Those named Log are the natural logarithm of what they name.
const (
	LogFilter     ParamKind = iota // FilterRatio
	LogFanSpeed                    // FanSpeed
	LeakAt                         // flow in m³/s at ReferenceSuction of a leak at Part, by its Exponent
	LogBlock                       // Blocked of the machine Part
	LogLoss                        // LossFactor
	LogLeakFactor                  // LeakFactor
	LogDensity                     // density of the air, its viscosity held
	LogFanFactor                   // FanFactor
	LogChoke                       // Choked of the run Part
	LogThrottle                    // Throttle
	Mixed                          // Mixing of the wye at the junction Part
	Stands                         // Standing of the run Part
	Past                           // PastFilter
	HousingLoss                    // Housing
)

// Param is one parameter.
type Param struct {
	Kind     ParamKind
	Part     string  // a leak part, a machine, a run or a junction, where the kind asks for one
	Exponent float64 // of LeakAt; 0 for 0.65
}
