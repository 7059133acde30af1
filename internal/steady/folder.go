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
	// settleInMean is dropped instead before a mean over longRow or more: what is left of the transient by then is spread
	// over the whole of it, and of a short test few rows begin late enough.
	settleInMean = 10 * time.Second
	longRow      = 30 * time.Second
	// runDown is dropped after the fan has been switched off, until the wheel stands.
	runDown = 60 * time.Second
	// guard is held back before each change: a gate is on its way before its switch says so.
	guard = 3 * time.Second
	// coast is held back instead where the fan has no switch: its wheel has been running down for as long before its
	// suction says so (from 2 kPa a factor of nine in speed; common practice, no source).
	coast = 60 * time.Second
	// shortest is how much steady air makes a run.
	shortest = 10 * time.Second
	// shortestZero is how much still air makes a zero.
	shortestZero = 60 * time.Second
	// longest is where a stretch is cut, so that a day on which nothing is moved still tells.
	longest = time.Hour
	// silence, with the fan on, ends a stretch: what happened meanwhile is not known.
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
	ungated   []way         // machines that no gate shuts off
	hold      time.Duration // guard or coast
	fanChan   string
	fanFrom   string // the channel that tells the fan where there is no switch; "" if there is one
	zeroed    map[string]bool
	sensors   map[string]int // channel → index into order
	usual     []eddies       // by index into order
	order     []string       // sorted sensor channels

	gate map[string]position
	port map[string]position
	fan  position

	contacts []contact
	air      map[string]roomAir // by channel: the last of each quantity of the room's air

	boot      uint32
	seen      bool
	lastMono  time.Duration
	lastTime  time.Time
	begun     time.Duration
	settled   time.Duration
	series    []series
	held      []reading.Reading // from release on: within hold of now
	released  int               // of held, those that are in their series already
	sampled   time.Duration     // monotonic time of the last sample of a sensor, and its civil time
	sampledAt time.Time
	fanOnFrom time.Duration
	fanHours  float64 // not yet handed out
	zeros     map[string]Zeroing
	previous  *Run          // the last whole hour of still air
	cutAfter  time.Duration // of steady air; 0: after longest alone
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
		air:       map[string]roomAir{},
	}
	for _, s := range c.Sensors {
		ch := c.Name + "/" + s.Name
		if isRoomAir(s.Measures) {
			f.air[ch] = roomAir{}
		}
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
	f.hold = guard
	if f.fanFrom != "" {
		f.hold = coast
	}
	sort.Strings(f.order)
	for i, ch := range f.order {
		f.sensors[ch] = i
	}
	f.series = make([]series, len(f.order))
	f.usual = make([]eddies, len(f.order))
	for _, s := range c.Sensors {
		f.usual[f.sensors[c.Name+"/"+s.Name]] = usualTurbulence(s.Measures)
	}
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
	f.ungated = ungated(c)
	f.contacts = contactsOf(c)
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

// Add takes one reading, in stored order, and returns the runs that it brought to an end: none, one, or two, and one for
// each contact that has news.
func (f *Folder) Add(r *reading.Reading) []Run {
	if r.Quality == reading.Late {
		return nil
	}
	_, isSensor := f.sensors[r.Channel]
	_, isGate := f.gate[r.Channel]
	_, isPort := f.port[r.Channel]
	isFan := r.Channel == f.fanChan
	if !isSensor && !isGate && !isPort && !isFan && !f.isContact(r.Channel) {
		return nil
	}
	var out []Run
	newBoot := f.seen && r.Boot != f.boot
	if newBoot || f.seen && r.Mono-r.Span-f.lastMono > silence && f.fan.value == 1 {
		out = f.end(out, f.lastMono)
		f.begin(r.Mono - r.Span)
	}
	if newBoot {
		f.lastTime = time.Time{} // of another boot: this one may not be placed yet
		f.forgetContacts()
	}
	if !f.seen {
		f.begin(r.Mono - r.Span)
	}
	f.seen, f.boot = true, r.Boot
	f.lastMono = max(r.Mono, 0)
	if !r.Time.IsZero() {
		f.lastTime = r.Time
	}
	out = f.tell(out, r)
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
	if !isSensor || math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return out
	}
	if r.Channel == f.fanFrom {
		out = f.inferFan(out, r)
	}
	f.readAir(r)
	return f.sample(out, r)
}

// sample takes one sensor reading into the stretch.
func (f *Folder) sample(out []Run, r *reading.Reading) []Run {
	from := f.settled
	if r.Span >= longRow && f.fan.value == 1 {
		from -= settle - settleInMean
	}
	if r.Mono-r.Span < from {
		return out
	}
	f.held = append(f.held, *r)
	f.release(r.Mono - f.hold)
	f.sampled, f.sampledAt = r.Mono, f.lastTime
	if f.tooLong(r.Mono) {
		out = f.cut(out, r.Mono)
	}
	return out
}

// cut ends a stretch that has become too long. Nothing moved: there is no transient, and what is held back goes on
// into the next one.
func (f *Folder) cut(out []Run, mono time.Duration) []Run {
	held, settled := append([]reading.Reading(nil), f.held[f.released:]...), f.settled
	switch {
	case f.fan.known && f.fan.value == 1:
		out = f.end(out, mono)
	case f.fan.known:
		f.keepStill()
	}
	f.begin(mono)
	f.settled, f.held = settled, held
	return out
}

// steady returns for how long the air has been steady at mono.
func (f *Folder) steady(mono time.Duration) time.Duration { return mono - max(f.settled, f.begun) }

// Flush ends the stretch that goes on, at the end of the input.
func (f *Folder) Flush() []Run {
	if !f.seen {
		return nil
	}
	out := f.end(nil, f.lastMono)
	f.begin(f.lastMono)
	return out
}

// SetZeros puts the zeros in force, by channel, as Restore would.
func (f *Folder) SetZeros(zeros map[string]Zeroing) {
	f.zeros = make(map[string]Zeroing, len(zeros))
	for k, v := range zeros {
		f.zeros[k] = v
	}
}

// Zeros returns the zeros in force, by channel.
func (f *Folder) Zeros() map[string]Zeroing {
	out := make(map[string]Zeroing, len(f.zeros))
	for k, v := range f.zeros {
		out[k] = v
	}
	return out
}
