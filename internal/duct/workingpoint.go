package duct

import (
	"math"
	"slices"
)

// WorkingPoint is one state in which the fan and the ducts are in balance.
type WorkingPoint struct {
	Result *Result
	Stable bool // the fan returns to it after a small push; from an unstable one it runs away to another
}

// How finely the fan's curve is looked over, and when two answers are one.
const (
	lookedAt  = 120  // flows of the fan, each way
	halvings  = 12   // of the interval between two of them in which there is a balance
	alikeFlow = 1e-3 // of the fan's reach
)

// WorkingPoints finds every state of balance that belongs to the state which r solved, r's among them, by rising flow of
// the fan. Where every loss is monotone there is one for each crossing of the fan's curve with that of the ducts, and so
// one but for a fan whose curve rises steeply; wyes, whose coefficients may be negative, may add to them. It holds the
// fan's flow at values over all of its curve, up and down, lets the ducts tell the pressure, and looks where the real
// fan has less on one side and more on the other. Two crossings closer than a hundredth of the curve may be missed.
func (m *Model) WorkingPoints(r *Result) ([]WorkingPoint, error) {
	w := m.work.Get().(*work)
	defer m.work.Put(w)
	if err := w.recall(r); err != nil {
		return nil, err
	}
	found := &balances{w: w, st: &r.state.st, reach: w.m.collector.fan.reach}
	found.add(r.Iterations)
	for _, way := range [...]int{1, -1} {
		found.look(way)
	}
	found.starts()
	slices.SortFunc(found.list, func(a, b WorkingPoint) int {
		return int(math.Copysign(1, a.Result.FanFlow-b.Result.FanFlow))
	})
	return found.list, nil
}

// OtherWorkingPoints are the WorkingPoints but for that of r.
func (m *Model) OtherWorkingPoints(r *Result) ([]WorkingPoint, error) {
	all, err := m.WorkingPoints(r)
	return slices.DeleteFunc(all, func(p WorkingPoint) bool {
		return sameFlows(p.Result, r, alikeFlow*m.collector.fan.reach)
	}), err
}

// balances gathers the working points that a search meets.
type balances struct {
	w     *work
	st    *State
	reach float64
	list  []WorkingPoint
}

// add takes in the solution at which w stands, unless it is known.
func (p *balances) add(steps int) {
	r := &Result{}
	p.w.tell(r, steps)
	r.state.model = p.w.m
	r.state.st.become(p.st)
	r.state.flow, r.state.pressure = slices.Clone(p.w.q), slices.Clone(p.w.p)
	r.state.friction = slices.Clone(p.w.friction)
	for _, known := range p.list {
		if sameFlows(known.Result, r, alikeFlow*p.reach) {
			return
		}
	}
	p.list = append(p.list, WorkingPoint{Result: r, Stable: p.stable()})
}

func sameFlows(a, b *Result, within float64) bool {
	if math.Abs(a.FanFlow-b.FanFlow) > within {
		return false
	}
	for i := range a.Runs {
		if math.Abs(a.Runs[i].Flow-b.Runs[i].Flow) > within {
			return false
		}
	}
	return true
}

// look goes over the fan's flows upwards or downwards.
func (p *balances) look(way int) {
	w := p.w
	w.forget()
	w.guess(usualSpeed)
	low, before := math.NaN(), 0.0
	for i := range lookedAt {
		k := float64(i + 1)
		if way < 0 {
			k = lookedAt - float64(i)
		}
		flow := 1.2 * p.reach * w.scene.speed * k / lookedAt
		surplus, ok := p.hold(flow)
		if !ok {
			low = math.NaN()
			continue
		}
		if !math.IsNaN(low) && surplus*before < 0 {
			q, pr := slices.Clone(w.q), slices.Clone(w.p)
			p.between(low, flow, before)
			copy(w.q, q)
			copy(w.p, pr)
		}
		low, before = flow, surplus
	}
}

// hold solves with the fan's flow held, and tells by how much the real fan's rise is above what that flow takes (Pa).
func (p *balances) hold(flow float64) (surplus float64, ok bool) {
	w := p.w
	fan := w.m.collector.fan
	w.scene.held, w.scene.flow, w.scene.stiff = true, flow, 1e4*fan.top/fan.reach
	_, ok = w.newton()
	w.scene.held = false
	q := w.q[len(w.q)-1]
	real := w.m.collector.at(q, &w.scene, w.chain.friction).rise
	return real - w.chain.rise, ok
}

// between halves the interval between two flows of the fan with a balance in it, and solves from there.
func (p *balances) between(from, to, surplus float64) {
	for range halvings {
		middle := (from + to) / 2
		now, ok := p.hold(middle)
		if !ok {
			return
		}
		if now*surplus > 0 {
			from = middle
		} else {
			to = middle
		}
	}
	if steps, ok := p.w.newton(); ok {
		p.add(steps)
	}
}

// starts solves from other starts than the usual one.
func (p *balances) starts() {
	for _, speed := range [...]float64{usualSpeed, 3 * usualSpeed, 0.3 * usualSpeed} {
		p.w.forget()
		p.w.guess(speed)
		if steps, ok := p.w.newton(); ok {
			p.add(steps)
		}
	}
	p.w.forget()
	if steps, ok := p.w.settle(); ok {
		p.add(steps)
	}
}

// stable tells whether, at the solution at which w stands, a little more flow takes more pressure than the fan gains.
func (p *balances) stable() bool {
	w := p.w
	q, pr, friction := slices.Clone(w.q), slices.Clone(w.p), slices.Clone(w.friction)
	defer func() {
		copy(w.q, q)
		copy(w.p, pr)
		copy(w.friction, friction)
		w.evaluate()
	}()
	flow, push := q[len(q)-1], 1e-3*p.reach*w.scene.speed
	more, ok := p.hold(flow + push)
	less, too := p.hold(flow - push)
	return ok && too && more < less
}
