package duct

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"ductward/internal/air"
)

// work is the memory of one solve. Lists by node have one more place, for the room, which stays at 0.
type work struct {
	m     *Model
	scene scene
	chain chain

	open       []bool // by edge: it carries a flow by its loss; else it is a bridge
	live, shut []int32
	factor     []float64    // by edge: on its loss
	elements   []element    // by edge
	elementsAs [3]float64   // the air's density and viscosity and the loss factor for which they were worked out
	leaks      []placedLeak // as designed and added
	powers     []power      // by leak
	bridge     []float64    // by edge: slope of its flow by the pressure across it, where it is shut
	friction   []point      // by edge

	q, p         []float64 // flows by edge, pressures by node
	loss, slope  []float64 // by edge, joints not included
	r            []float64 // by edge: Pa by which its loss is more than the pressure across it
	mass         []float64 // by node: m³/s that enter more than leave
	merit        float64   // of the last evaluation
	beyond       []beyond  // by joint
	joint        []jointLoss
	leakSlope    []float64   // by spot: slope of the inflow by the suction
	leakVelocity []float64   // by spot: slope of the inflow by the carrier's flow
	c            []float64   // by edge: slope of its flow by the pressure across it
	pair         []jointLoss // by joint: slopes of the flows of its legs by the pressures across them

	inertia float64 // Pa s/m³ added to every slope, 0 but in settle

	dq, dp, q1, p1 []float64
	matrix         *matrix
	seen           []bool
	queue          []int32
	sums           []float64 // by leak part
	has            []bool
}

func newWork(m *Model) *work {
	n, e := len(m.nodes)+1, len(m.edges)
	floats := func(n int) []float64 { return make([]float64, n) }
	return &work{
		m: m, open: make([]bool, e), live: make([]int32, 0, e), shut: make([]int32, 0, e),
		factor: floats(e), elements: make([]element, e), bridge: floats(e), friction: make([]point, e),
		q: floats(e), p: floats(n), loss: floats(e), slope: floats(e), r: floats(e), mass: floats(n),
		beyond: make([]beyond, len(m.joints)), joint: make([]jointLoss, len(m.joints)), pair: make([]jointLoss, len(m.joints)),
		leakSlope: floats(len(m.spots)), leakVelocity: floats(len(m.spots)), c: floats(e),
		dq: floats(e), dp: floats(n), q1: floats(e), p1: floats(n),
		matrix: newMatrix(m.pattern), seen: make([]bool, n),
		sums: floats(len(m.parts)), has: make([]bool, len(m.parts)),
	}
}

// prepare sets the elements for a state.
func (w *work) prepare(st *State) error {
	if err := w.setScene(st); err != nil {
		return err
	}
	if err := w.setGates(st); err != nil {
		return err
	}
	if err := w.setFactors(st); err != nil {
		return err
	}
	if err := w.setBeyond(st); err != nil {
		return err
	}
	w.setElements(len(st.Blocked)+len(st.Choked) > 0)
	return w.setLeaks(st)
}

// setElements works out what the pipes are in this air, unless they are already.
func (w *work) setElements(blocked bool) {
	as := [3]float64{w.scene.air.Density, w.scene.air.Viscosity, w.scene.losses}
	if as == w.elementsAs && !blocked {
		return
	}
	for i := range w.elements {
		if p := &w.m.edges[i].pipe; p.area > 0 {
			w.elements[i] = p.in(&w.scene, w.factor[i])
		}
	}
	w.elementsAs = as
	if blocked {
		w.elementsAs = [3]float64{}
	}
}

func (w *work) setScene(st *State) error {
	a := st.Air
	if a == (air.State{}) {
		a = air.Reference()
	}
	if !(a.Density > 0) || !(a.Viscosity > 0) || math.IsInf(a.Density, 0) || math.IsInf(a.Viscosity, 0) {
		return fmt.Errorf("air has density %g kg/m³ and viscosity %g Pa s; both must be positive numbers", a.Density, a.Viscosity)
	}
	w.scene = scene{air: a, wye: 1}
	for _, f := range [...]struct {
		name  string
		value float64
		into  *float64
	}{
		{"fan speed ratio", st.FanSpeed, &w.scene.speed},
		{"filter resistance ratio", st.FilterRatio, &w.scene.filter},
		{"loss factor", st.LossFactor, &w.scene.losses},
		{"leak factor", st.LeakFactor, &w.scene.leak},
		{"fan factor", st.FanFactor, &w.scene.fan},
		{"throttle at the fan", st.Throttle, &w.scene.throttle},
	} {
		if f.value == 0 {
			f.value = 1
		}
		if !(f.value > 0) || math.IsInf(f.value, 0) {
			return fmt.Errorf("%s is %g; it must be a positive number (0 for 1)", f.name, f.value)
		}
		*f.into = f.value
	}
	w.scene.speed *= w.m.collector.fan.running
	if !(st.PastFilter >= 0) || math.IsInf(st.PastFilter, 0) {
		return fmt.Errorf("flow past the filter's medium is %g m³/s; it must be 0 or more", st.PastFilter)
	}
	f := &w.m.collector.filter
	w.scene.housing = st.Housing * f.housingUnit
	if !(f.housing+w.scene.housing >= 0) || math.IsInf(w.scene.housing, 0) {
		return fmt.Errorf("the filter's housing loses %g Pa beyond the shop file's at its clean flow; with that it must lose 0 or more", st.Housing)
	}
	w.scene.pastUnit = math.Sqrt(air.Reference().Density / a.Density / w.m.reference)
	w.scene.past = st.PastFilter * w.scene.pastUnit
	return nil
}

// setGates opens the edges that the setting opens.
func (w *work) setGates(st *State) error {
	m := w.m
	for i, e := range m.edges {
		w.open[i] = !e.gated
	}
	known := 0
	for i, g := range m.shop.Gates {
		open, named := st.Setting.Open[g.Name]
		if named {
			known++
		}
		for _, e := range m.gates[i] {
			w.open[e] = open
		}
	}
	if known != len(st.Setting.Open) {
		return w.unknown("gate", keys(st.Setting.Open), gateNames(m))
	}
	known = 0
	for i, s := range m.shop.Selectors {
		port, named := st.Setting.Port[s.Name]
		if named {
			known++
		}
		if port < 0 || port > len(s.Ports) {
			return fmt.Errorf("selector %q has no port %d; it has 1 to %d, and 0 for none", s.Name, port, len(s.Ports))
		}
		if port > 0 {
			w.open[m.ports[i][port-1]] = true
		}
	}
	if known != len(st.Setting.Port) {
		var have []string
		for _, s := range m.shop.Selectors {
			have = append(have, s.Name)
		}
		return w.unknown("selector", keys(st.Setting.Port), have)
	}
	w.live, w.shut = w.live[:0], w.shut[:0]
	for i, open := range w.open {
		if open {
			w.live = append(w.live, int32(i))
		} else {
			w.shut = append(w.shut, int32(i))
		}
	}
	return nil
}

func (w *work) setFactors(st *State) error {
	for i := range w.factor {
		w.factor[i] = w.scene.losses
	}
	known := 0
	for i := range w.m.machines {
		parts := &w.m.machines[i]
		factor, named := st.Blocked[parts.machine.Name]
		if !named {
			continue
		}
		known++
		if !(factor > 0) || math.IsInf(factor, 0) {
			return fmt.Errorf("the drop of %q is blocked by a factor %g; it must be a positive number", parts.machine.Name, factor)
		}
		w.eachOfDrop(parts, func(e int32) { w.factor[e] *= factor })
	}
	if known != len(st.Blocked) {
		var have []string
		for _, machine := range w.m.machines {
			have = append(have, machine.machine.Name)
		}
		return w.unknown("machine", keys(st.Blocked), have)
	}
	return w.setChoked(st)
}

// setChoked puts the factors of single runs on their losses.
func (w *work) setChoked(st *State) error {
	if len(st.Choked) == 0 {
		return nil
	}
	known := 0
	for i := range w.m.runs {
		r := &w.m.runs[i]
		factor, named := st.Choked[r.run.Name]
		if !named {
			continue
		}
		known++
		if !(factor > 0) || math.IsInf(factor, 0) {
			return fmt.Errorf("run %q is choked by a factor %g; it must be a positive number", r.run.Name, factor)
		}
		r.each(func(e int32) { w.factor[e] *= factor })
	}
	if known != len(st.Choked) {
		return w.unknown("run", keys(st.Choked), runNames(w.m))
	}
	return nil
}

// each visits the edges of a run, without its hood.
func (r *runParts) each(visit func(e int32)) {
	visit(r.first)
	if r.second != r.first {
		visit(r.second)
	}
}

// runNames lists the runs in the order of the file.
func runNames(m *Model) []string {
	var out []string
	for i := range m.runs {
		out = append(out, m.runs[i].run.Name)
	}
	return out
}

// eachOfDrop visits the edges of a machine's drop, those of a moved hose only while it is the machine's.
func (w *work) eachOfDrop(parts *machineParts, visit func(e int32)) {
	for _, e := range parts.drop {
		visit(e)
	}
	if parts.port >= 0 && w.open[parts.port] {
		for _, e := range parts.hose {
			visit(e)
		}
	}
}

func (w *work) setLeaks(st *State) error {
	w.leaks = w.leaks[:0]
	for _, l := range w.m.designed {
		l.law.c *= w.scene.leak
		w.leaks = append(w.leaks, l)
	}
	for _, l := range st.Leaks {
		part := slices.IndexFunc(w.m.parts, func(p leakPart) bool { return p.name == l.Part })
		if part < 0 {
			return w.unknown("leak part", []string{l.Part}, w.m.LeakParts())
		}
		if math.IsNaN(l.Flow) || math.IsInf(l.Flow, 0) || !(l.Exponent >= 0 && l.Exponent <= 1) {
			return fmt.Errorf("leak at %q: %g m³/s with exponent %g; the flow must be a number and the exponent 0.5 to 1", l.Part, l.Flow, l.Exponent)
		}
		w.leaks = w.m.placed(w.leaks, int32(part), atReference(l.Flow, w.m.reference, l.Exponent))
	}
	w.powers = slices.Grow(w.powers[:0], len(w.leaks))[:len(w.leaks)]
	return nil
}

// placed appends a leak law at a part; a part of several seats shares it among them.
func (m *Model) placed(list []placedLeak, part int32, law leakLaw) []placedLeak {
	p := &m.parts[part]
	if p.spot >= 0 {
		return append(list, placedLeak{law: law, part: part, spot: p.spot, edge: -1})
	}
	law.c /= float64(len(p.seats))
	for _, e := range p.seats {
		list = append(list, placedLeak{law: law, part: part, spot: -1, edge: e})
	}
	return list
}

func (w *work) unknown(kind string, asked, have []string) error {
	for _, name := range asked {
		if !slices.Contains(have, name) {
			return fmt.Errorf("there is no %s %q; there are %q", kind, name, have)
		}
	}
	return nil
}

func gateNames(m *Model) []string {
	var out []string
	for _, g := range m.shop.Gates {
		out = append(out, g.Name)
	}
	return out
}

func keys[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
