package daemon

import (
	"fmt"
	"log/slog"
	"math"
	"time"

	"ductward/hardware"
	"ductward/internal/reading"
)

// settled is how long after a switch has moved in a simulated world it is still read at every step: longer than any
// debounce.
const settled = 5 * time.Second

// sampler reads the pollers when they are due. Its step is the same live and in history.
type sampler struct {
	in     *intake
	groups []*group
	pace   pace
	log    *slog.Logger

	ambient func(pa float64) // told of the room's absolute pressure; nil: nobody asks
}

// group is the probes that share wires, and one goroutine.
type group struct {
	name   string
	probes []*probe
}

// newSampler makes probes of the pollers; the channels that the shop names must be known.
func newSampler(groups []hardware.Group, channels map[string]*channel, in *intake, p pace, log *slog.Logger) (*sampler, error) {
	s := &sampler{in: in, pace: p, log: log}
	start := in.clk.Mono()
	for _, g := range groups {
		own := &group{name: g.Bus}
		for _, poller := range g.Pollers {
			c := channels[poller.Channel()]
			if c == nil {
				return nil, fmt.Errorf("bus %q polls channel %q, which the shop file does not name", g.Bus, poller.Channel())
			}
			interval := poller.Interval()
			if interval <= 0 {
				return nil, fmt.Errorf("channel %q: interval %v is not positive", c.name, interval)
			}
			own.probes = append(own.probes, &probe{poller: poller, channel: c, interval: interval, due: start, recorded: -1,
				health: health{badSince: -1, goodSince: -1}})
		}
		if len(own.probes) > 0 {
			s.groups = append(s.groups, own)
		}
	}
	return s, nil
}

// start lets the parts of a group that are due measure at the same time.
func (s *sampler) start(g *group, mono time.Duration) {
	for _, p := range g.probes {
		if p.due <= mono && !p.channel.asleep(mono, p.recorded) {
			p.start(s.log)
		}
	}
}

// step reads every probe of the group that is due at mono, and returns when the next one is. Where still says that no
// switch can have moved, as only a simulated world can say, a switch that has been read before is not read again.
func (s *sampler) step(g *group, mono time.Duration, still bool) time.Duration {
	next := time.Duration(math.MaxInt64)
	for _, p := range g.probes {
		if p.due <= mono {
			s.sample(p, mono, still)
			p.due += p.interval
			if p.due <= mono { // fell behind: keep to the beat and let go what was missed
				p.due += (mono - p.due + p.interval) / p.interval * p.interval
			}
		}
		next = min(next, p.due)
	}
	return next
}

func (s *sampler) sample(p *probe, mono time.Duration, still bool) {
	if p.channel.asleep(mono, p.recorded) || still && p.channel.isSwitch && p.health.sound() {
		return
	}
	v, q, err := p.read(s.log)
	if err == nil && !p.channel.isSwitch && (math.IsNaN(v) || math.IsInf(v, 0)) {
		err = fmt.Errorf("the driver returned %v, which is no value", v)
	}
	if err != nil {
		s.failed(p, mono, err)
		return
	}
	if p.health.good(mono, s.pace.soundAfter) {
		s.in.tell(fault{channel: p.channel.name})
	}
	r := single(v)
	r.Quality = q
	s.hear(p.channel, v)
	p.recorded = s.in.take(p.channel, r)
}

// failed tells of a fault once it has lasted. A switch then stands nobody knows where, also after a good read in passing.
func (s *sampler) failed(p *probe, mono time.Duration, err error) {
	code, text := codeOf(err)
	if p.health.failed(mono, newsOf(err, code), s.pace.faultAfter) {
		s.in.tell(fault{channel: p.channel.name, code: code, text: text})
	}
	if p.channel.isSwitch && p.health.told != "" {
		s.in.take(p.channel, single(math.NaN()))
	}
}

// push takes a reading that came by itself. A sensor that says that it has no value says so through its fault.
func (s *sampler) push(c *channel, r reading.Reading) {
	if !c.isSwitch && (math.IsNaN(r.Value) || math.IsInf(r.Value, 0)) {
		return
	}
	s.hear(c, r.Value)
	s.in.takePushed(c, r)
	s.in.ring()
}

func (s *sampler) hear(c *channel, v float64) {
	if c.ambient && s.ambient != nil {
		s.ambient(v)
	}
}
