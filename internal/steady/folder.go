package steady

import (
	"math"
	"sort"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// The times that shape a stretch.
const (
	// settle is dropped after each change of a gate or the fan, until the air has found its new state (common
	// practice, no source).
	settle = 20 * time.Second
	// runDown is dropped after the fan has been switched off, until the wheel stands.
	runDown = 60 * time.Second
	// guard is held back before each change: a gate is on its way before its switch says so.
	guard = 3 * time.Second
	// shortest is how much steady air makes a run.
	shortest = 10 * time.Second
	// shortestZero is how much still air makes a zero.
	shortestZero = 60 * time.Second
	// longest is where a stretch is cut, so that a day on which nothing is moved still tells.
	longest = time.Hour
	// silence ends a stretch: what happened meanwhile is not known.
	silence = 3 * time.Minute
)

// position is where a switch stands. The zero value is not known.
type position struct {
	known bool
	value int
}

// Folder folds the readings of one collector into runs.
type Folder struct {
	collector string
	gates     []string
	selectors []string
	fanChan   string
	fanFrom   string // the channel that tells the fan where there is no switch; "" if there is one
	zeroed    map[string]bool
	sensors   map[string]int // channel → index into order
	order     []string       // sorted sensor channels

	gate map[string]position
	port map[string]position
	fan  position

	boot      uint32
	seen      bool
	lastMono  time.Duration
	lastTime  time.Time
	begun     time.Duration
	settled   time.Duration
	series    []series
	held      []reading.Reading // within guard of now
	fanOnFrom time.Duration
	fanHours  float64 // not yet handed out
	zeros     map[string]Zeroing
	previous  *Run // the last whole hour of still air
}

// Zeroing is the zero of one channel.
type Zeroing struct {
	Value   float64 // Pa
	SE      float64
	Boot    uint32
	Mono    time.Duration
	At      time.Time
	Refused float64 // the last zero that was refused, 0 if none
}

// NewFolder returns a folder for one collector of a shop.
func NewFolder(c *shop.Collector) *Folder {
	f := &Folder{
		collector: c.Name,
		fanChan:   c.Name + "/fan",
		zeroed:    map[string]bool{},
		sensors:   map[string]int{},
		gate:      map[string]position{},
		port:      map[string]position{},
		zeros:     map[string]Zeroing{},
	}
	for _, s := range c.Sensors {
		ch := c.Name + "/" + s.Name
		f.order = append(f.order, ch)
		f.zeroed[ch] = isPressure(s.Measures)
		if c.FanSwitch == nil && f.fanFrom == "" && s.Measures == shop.StaticPressure {
			f.fanFrom = ch
		}
	}
	if c.FanSwitch == nil && f.fanFrom == "" {
		for _, s := range c.Sensors {
			if s.Measures == shop.FilterDrop {
				f.fanFrom = c.Name + "/" + s.Name
				break
			}
		}
	}
	sort.Strings(f.order)
	for i, ch := range f.order {
		f.sensors[ch] = i
	}
	f.series = make([]series, len(f.order))
	for _, g := range c.Gates {
		f.gates = append(f.gates, g.Name)
		if p := g.Position; p != nil && p.Kind == shop.SourceFixed {
			f.gate["gate/"+g.Name] = position{known: true, value: b2i(p.Fixed)}
		} else {
			f.gate["gate/"+g.Name] = position{}
		}
	}
	sort.Strings(f.gates)
	for _, s := range c.Selectors {
		f.selectors = append(f.selectors, s.Name)
		f.port["selector/"+s.Name] = position{}
	}
	sort.Strings(f.selectors)
	return f
}

// isPressure tells whether a channel has a zero that shows when the fan stands.
func isPressure(q shop.Quantity) bool {
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
		return true
	}
	return false
}

// Add takes one reading, in stored order, and returns the runs that it brought to an end: none, one, or two.
func (f *Folder) Add(r *reading.Reading) []Run {
	if r.Quality == reading.Late {
		return nil
	}
	_, isSensor := f.sensors[r.Channel]
	_, isGate := f.gate[r.Channel]
	_, isPort := f.port[r.Channel]
	isFan := r.Channel == f.fanChan
	if !isSensor && !isGate && !isPort && !isFan {
		return nil
	}
	var out []Run
	if f.seen && (r.Boot != f.boot || r.Mono-f.lastMono > silence && f.fan.value == 1) {
		out = f.end(out, f.lastMono)
		f.begin(r.Mono)
		f.fanOnFrom = r.Mono
	}
	if !f.seen {
		f.begin(r.Mono)
		f.fanOnFrom = r.Mono
	}
	f.seen, f.boot = true, r.Boot
	f.lastMono = max(r.Mono, 0)
	if !r.Time.IsZero() {
		f.lastTime = r.Time
	}
	switch {
	case isFan:
		return f.turn(out, &f.fan, r)
	case isGate:
		p := f.gate[r.Channel]
		out = f.turn(out, &p, r)
		f.gate[r.Channel] = p
		return out
	case isPort:
		p := f.port[r.Channel]
		out = f.turn(out, &p, r)
		f.port[r.Channel] = p
		return out
	}
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return out
	}
	if r.Channel == f.fanFrom {
		out = f.inferFan(out, r)
	}
	return f.sample(out, r)
}

// turn moves a switch. If it moved, the stretch ends.
func (f *Folder) turn(out []Run, p *position, r *reading.Reading) []Run {
	next := position{}
	if !math.IsNaN(r.Value) {
		next = position{known: true, value: int(math.Round(r.Value))}
	}
	if next == *p {
		return out
	}
	out = f.end(out, r.Mono)
	*p = next
	f.begin(r.Mono)
	return out
}

// The suction, or filter drop, that says that the fan runs, and the one below which it surely stands.
const (
	fanOnPa  = 60.0
	fanOffPa = 25.0
)

// inferFan tells the fan from a pressure where no switch does.
func (f *Folder) inferFan(out []Run, r *reading.Reading) []Run {
	z := 0.0
	if k, ok := f.zeros[r.Channel]; ok {
		z = k.Value
	}
	size := math.Abs(r.Value - z)
	value := f.fan.value
	switch {
	case size > fanOnPa:
		value = 1
	case size < fanOffPa:
		value = 0
	case !f.fan.known:
		return out
	}
	s := *r
	s.Value = float64(value)
	return f.turn(out, &f.fan, &s)
}

// begin starts a stretch at mono.
func (f *Folder) begin(mono time.Duration) {
	f.begun = mono
	f.settled = mono + settle
	if f.fan.known && f.fan.value == 0 {
		f.settled = mono + runDown
	}
	f.fanOnFrom = mono
	f.clear()
}

// clear forgets the samples of the stretch.
func (f *Folder) clear() {
	for i := range f.series {
		f.series[i] = series{blocks: f.series[i].blocks[:0]}
	}
	f.held = f.held[:0]
}

// sample takes one sensor reading into the stretch.
func (f *Folder) sample(out []Run, r *reading.Reading) []Run {
	if r.Mono-r.Span < f.settled {
		return out
	}
	f.held = append(f.held, *r)
	f.release(r.Mono - guard)
	if r.Mono-f.begun >= longest {
		if f.fan.known && f.fan.value == 1 {
			out = f.end(out, r.Mono)
		} else {
			f.keepStill(r.Mono)
		}
		settled := f.settled
		f.begin(r.Mono)
		f.settled = min(settled, r.Mono) // nothing moved: there is no transient
	}
	return out
}

// release moves what was held back, up to mono, into the series.
func (f *Folder) release(upto time.Duration) {
	n := 0
	for n < len(f.held) && f.held[n].Mono <= upto {
		h := &f.held[n]
		f.series[f.sensors[h.Channel]].add(h)
		n++
	}
	if n > 0 {
		f.held = f.held[:copy(f.held, f.held[n:])]
	}
}

// end closes the stretch at mono and appends the run that it made, if it made one.
func (f *Folder) end(out []Run, mono time.Duration) []Run {
	if f.fan.known && f.fan.value == 1 && mono > f.fanOnFrom {
		f.fanHours += (mono - f.fanOnFrom).Hours()
		f.fanOnFrom = mono
	}
	if !f.fan.known {
		return out
	}
	if f.fan.value == 0 {
		return f.endStill(out, mono)
	}
	if mono-f.settled < shortest {
		return out
	}
	run := f.summarise(mono)
	if len(run.Channels) == 0 {
		return out
	}
	f.fanHours = 0
	return append(out, run)
}

// summarise makes the run of the stretch as it stands.
func (f *Folder) summarise(mono time.Duration) Run {
	run := Run{Collector: f.collector, Boot: f.boot, Start: f.begun, End: mono, At: f.lastTime, FanHours: f.fanHours}
	run.Kind = f.kind()
	for _, g := range f.gates {
		if p := f.gate["gate/"+g]; p.known && p.value == 1 {
			run.Open = append(run.Open, g)
		}
	}
	for _, s := range f.selectors {
		run.Ports = append(run.Ports, Port{Selector: s, Port: f.port["selector/"+s].value})
	}
	for i, ch := range f.order {
		sum, ok := f.series[i].summary(ch)
		if !ok {
			continue
		}
		if z, known := f.zeros[ch]; known && run.Kind != Zero {
			sum.Mean -= z.Value
			sum.Zero = z.Value
			sum.ZeroAge = f.age(z, mono)
		}
		run.Channels = append(run.Channels, sum)
	}
	return run
}

// age returns how old a zero is: by monotonic time within a boot, else by civil time, else not known.
func (f *Folder) age(z Zeroing, mono time.Duration) time.Duration {
	switch {
	case z.Boot == f.boot:
		return mono - z.Mono
	case !z.At.IsZero() && !f.lastTime.IsZero():
		return max(f.lastTime.Sub(z.At), 0)
	}
	return -1
}

// kind tells what the stretch is good for.
func (f *Folder) kind() Kind {
	if f.fan.value == 0 {
		return Zero
	}
	open := len(f.gates) == 0
	for _, g := range f.gates {
		p := f.gate["gate/"+g]
		if !p.known {
			return Unknown
		}
		open = open || p.value == 1
	}
	for _, s := range f.selectors {
		if !f.port["selector/"+s].known {
			return Unknown
		}
	}
	if !open {
		return Closed
	}
	return Running
}

// Open returns the run that goes on, as far as it has come, and whether it has enough steady air to be one.
func (f *Folder) Open() (Run, bool) {
	if !f.seen || !f.fan.known {
		return Run{}, false
	}
	if f.fan.value == 0 || f.lastMono-f.settled < shortest {
		run := Run{Collector: f.collector, Kind: f.kind(), Boot: f.boot, Start: f.begun, End: f.lastMono, At: f.lastTime}
		for _, g := range f.gates {
			if p := f.gate["gate/"+g]; p.known && p.value == 1 {
				run.Open = append(run.Open, g)
			}
		}
		for _, s := range f.selectors {
			run.Ports = append(run.Ports, Port{Selector: s, Port: f.port["selector/"+s].value})
		}
		return run, false
	}
	// summary flushes the block being filled, so it is made on a copy
	c := *f
	c.series = make([]series, len(f.series))
	for i, s := range f.series {
		c.series[i] = s
		c.series[i].blocks = append([]block(nil), s.blocks...)
	}
	run := c.summarise(f.lastMono)
	return run, len(run.Channels) > 0
}

// Flush ends the stretch that goes on, at the end of the input.
func (f *Folder) Flush() []Run {
	if !f.seen {
		return nil
	}
	out := f.end(nil, f.lastMono)
	f.begin(f.lastMono)
	return out
}

// FanOn tells whether the fan runs, and whether that is known.
func (f *Folder) FanOn() (on, known bool) { return f.fan.value == 1, f.fan.known }

// Zeros returns the zeros in force, by channel.
func (f *Folder) Zeros() map[string]Zeroing {
	out := make(map[string]Zeroing, len(f.zeros))
	for k, v := range f.zeros {
		out[k] = v
	}
	return out
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}
