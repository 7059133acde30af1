package plant

import (
	"fmt"
	"math"
	"math/rand/v2"

	"ductward/internal/shop"
)

// Plant is one collector as built, in a state. Make it with New.
type Plant struct {
	c         *shop.Collector
	o         Options
	net       *network
	fan       fan
	filter    filterLaw
	separator float64 // Pa/(m³/s)² per kg/m³
	machines  []machine
	gateAt    map[string]int
	selectAt  map[string]int
	runAt     map[string]int
	machineAt map[string]int

	// What moves.
	open        []bool // by gate
	port        []int  // by selector
	fanOn       bool
	speed       float64 // ratio to that at which the fan runs, set
	fanDay      float64 // ratio, this day's
	filterRatio float64
	runBlock    []float64 // by run
	air         Weather
	rho, mu     float64
	parts       []opened // leaks that SetLeak has opened, in the order of their first opening

	// What follows from it.
	dirty  bool
	solver *solver
	known  map[string][]float64 // flows once found, by setting: where to start from
	state  solution
	err    error

	taps   []*Tap
	tapAt  map[string]*Tap
	wander wander
	days   *rand.Rand
	hoods  *rand.Rand
	creep  *rand.Rand
}

// machine is where a machine hangs on the network.
type machine struct {
	name          string
	hood          []int    // segments of the first run: hood and hose
	drop          []int    // segments up to the first junction
	gates         []int    // that stand between it and the collector
	ports         [][2]int // selector and port that must be joined
	entry         int      // segment that its air enters by
	block, jitter float64
	stir          float64 // factor on jitter within a use
	crept         float64 // and how far it has crept for good
	usedToday     bool
	chips         float64 // factor on the drop's losses of what it carries just now
}

// New builds the plant with its errors. It fails where the collector has no drawing, or one that is not one piece, or
// one whose flows cannot be found.
func New(c *shop.Collector, site shop.Site, o Options) (*Plant, error) {
	n, err := build(c)
	if err != nil {
		return nil, err
	}
	p := &Plant{c: c, o: o, net: n, fan: newFan(&c.Fan), filter: newFilter(&c.Filter),
		open: make([]bool, len(c.Gates)), port: make([]int, len(c.Selectors)), runBlock: ones(len(n.runs)),
		speed: 1, filterRatio: 1, known: map[string][]float64{}, tapAt: map[string]*Tap{}}
	if s := c.Separator; s != nil {
		density := s.Density
		if !(density > 0) {
			density = referenceDensity
		}
		p.separator = s.Loss / (s.Flow * s.Flow) / density
	}
	p.index()
	if err := p.findMachines(); err != nil {
		return nil, err
	}
	p.asBuilt()
	p.makeTaps()
	p.SetAir(siteAir(site))
	p.fanOn = true
	p.solver = newSolver(p)
	p.dirty = true
	if err := p.Err(); err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	p.SetFan(false)
	p.newDay(true)
	return p, nil
}

// siteAir returns the air that the site's description assumes.
func siteAir(s shop.Site) Weather {
	w := Weather{Temperature: s.Temperature, Pressure: barometer(s.Altitude), Humidity: s.Humidity}
	if !(w.Temperature > 0) {
		w.Temperature = standard.Temperature
	}
	if !(w.Humidity >= 0) {
		w.Humidity = standard.Humidity
	}
	return w
}

// ones returns n ones.
func ones(n int) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = 1
	}
	return s
}

// index finds gates, selectors and runs by name.
func (p *Plant) index() {
	p.gateAt, p.selectAt, p.runAt, p.machineAt = map[string]int{}, map[string]int{}, map[string]int{}, map[string]int{}
	for i, g := range p.c.Gates {
		p.gateAt[g.Name] = i
	}
	for i, s := range p.c.Selectors {
		p.selectAt[s.Name] = i
	}
	for i, r := range p.net.runs {
		p.runAt[r.name] = i
	}
}

// stream returns a stream of random numbers of its own for a purpose, so that the use of one does not move another.
func (o *Options) stream(purpose uint64) *rand.Rand { return rand.New(rand.NewPCG(o.Seed, purpose)) }

// The purposes of random numbers; taps count up from tapStream.
const (
	builtStream = iota + 1
	dayStream
	hoodStream
	wanderStream
	creepStream
	tapStream = 1000
)

// asBuilt draws how the plant differs from its drawing.
func (p *Plant) asBuilt() {
	r := p.o.stream(builtStream)
	spread := func(sd float64) float64 { return math.Exp(sd * r.NormFloat64()) }
	leakage := spread(p.o.LeakScale)
	for i := range p.net.segments {
		e := &p.net.segments[i]
		loss, length, leaks := spread(p.o.AsBuilt), spread(p.o.AsBuilt), spread(p.o.LeakBuilt)
		holes, crack := r.Float64(), r.Float64()
		e.coefficient *= loss
		e.mouth *= loss
		e.measured *= loss
		e.branchLoss *= loss
		e.reach *= length
		e.tightness.rate *= leaks * leakage
		e.seat.flow *= leaks * leakage
		e.tightness.holes = 0.2 + 0.4*holes
		e.leak.exponent, e.seat.exponent = exponentOf(crack), exponentOf(holes)
	}
	for i := range p.net.wyes {
		p.net.wyes[i].recovery *= spread(p.o.AsBuilt)
	}
	p.fan.height = spread(p.o.FanBuilt)
	p.fan.tilt = 2 * p.o.FanBuilt * r.NormFloat64()
	p.filter.viscous *= spread(p.o.AsBuilt / 2)
	p.separator *= spread(p.o.AsBuilt)
	p.days, p.hoods = p.o.stream(dayStream), p.o.stream(hoodStream)
	p.creep = p.o.stream(creepStream)
	p.wander = newWander(p.o)
}

// exponentOf returns the exponent of an opening that is so much of a seam.
func exponentOf(seam float64) float64 { return HoleExponent + (SeamExponent-HoleExponent)*seam }

// findMachines follows the ducts from each machine to the collector.
func (p *Plant) findMachines() error {
	for _, m := range p.c.Machines {
		found := machine{name: m.Name, entry: -1, block: 1, jitter: 1, stir: 1, crept: 1, chips: 1}
		for i, r := range p.c.Network.Runs {
			if r.From.Kind == shop.EndMachine && r.From.Name == m.Name {
				p.follow(&found, i)
			}
		}
		for si, s := range p.c.Selectors {
			for port, name := range s.Ports {
				if !s.Hose || name != m.Name {
					continue
				}
				found.ports = append(found.ports, [2]int{si, port + 1})
				p.follow(&found, p.runFrom(shop.EndSelector, s.Name))
			}
		}
		if found.entry < 0 {
			return fmt.Errorf("collector %q: no run begins at machine %q", p.c.Name, m.Name)
		}
		p.machineAt[m.Name] = len(p.machines)
		p.machines = append(p.machines, found)
	}
	return nil
}

// runFrom returns the first run that begins at something, -1 if none does.
func (p *Plant) runFrom(kind shop.EndKind, name string) int {
	for i, r := range p.c.Network.Runs {
		if r.From.Kind == kind && r.From.Name == name {
			return i
		}
	}
	return -1
}

// follow walks from a run to the collector and notes what a machine's air passes.
func (p *Plant) follow(m *machine, run int) {
	beforeJunction := true
	for steps := 0; run >= 0 && steps <= len(p.net.runs); steps++ {
		part, r := p.net.runs[run], p.c.Network.Runs[run]
		for s := part.first; s <= part.last; s++ {
			if m.entry < 0 {
				m.entry = s
			}
			if steps == 0 {
				m.hood = append(m.hood, s)
			}
			if beforeJunction {
				m.drop = append(m.drop, s)
			}
			if g := p.net.segments[s].gate; g >= 0 {
				m.gates = append(m.gates, g)
			}
		}
		switch r.To.Kind {
		case shop.EndRun:
			run = p.runAt[r.To.Name]
		case shop.EndSelector:
			si := p.selectAt[r.To.Name]
			m.ports = append(m.ports, [2]int{si, portOf(p.c.Selectors[si], r.Name)})
			run = p.runFrom(shop.EndSelector, r.To.Name)
		case shop.EndJunction:
			beforeJunction = false
			run = p.runFrom(shop.EndJunction, r.To.Name)
		default:
			return
		}
	}
}
