package steady

import (
	"math"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// How long a contact must stand before it is told. Common practice, no source.
const (
	// fullFor passes over chips that slide past a level switch, and a bin that is leant on.
	fullFor = time.Minute
	// dustFor passes over the puff that a cleaning of the filter lets through.
	dustFor = 30 * time.Second
	// cleanFor keeps a monitor that answers to puffs, one after another, at one finding.
	cleanFor = 10 * time.Minute
	// emptied is below which share of its full weight a bin is no longer full.
	emptied = 0.9
)

// contact follows one contact, or a scale as the contact that closes at its full weight. It changes no stretch of steady
// air; what it tells is a run of its own, so that it is kept and told again after a restart.
type contact struct {
	channel string
	full    float64       // kg; NaN: a switch
	dust    bool          // it means nothing while the fan stands
	on, off time.Duration // for how long it must stand closed, and open, to be told
	known   bool
	closed  bool
	value   float64       // last read
	since   time.Duration // monotonic, since when it is as it is
	told    bool          // what was told last

	// Up to where a restart knows what was told: readings from before that are folded again tell nothing new.
	restored struct {
		boot uint32
		end  time.Duration
	}
}

// contactsOf lists the contacts of a collector and the scales of its bins, in the order of the shop file.
func contactsOf(c *shop.Collector) []contact {
	var out []contact
	for _, x := range c.Contacts {
		k := contact{channel: shop.ContactChannel(x.Name), full: math.NaN(), on: fullFor, off: fullFor}
		if x.Tells == shop.DustInReturn {
			k.dust, k.on, k.off = true, dustFor, cleanFor
		}
		out = append(out, k)
	}
	for _, s := range c.Sensors {
		if s.Measures == shop.BinWeight {
			out = append(out, contact{channel: c.ChannelOf(s.Name), full: s.Full, on: fullFor, off: fullFor})
		}
	}
	return out
}

// read takes a reading of the contact's own channel.
func (c *contact) read(r *reading.Reading) {
	was, known := c.closed, c.known
	c.known, c.value = !math.IsNaN(r.Value) && !math.IsInf(r.Value, 0), r.Value
	switch {
	case !c.known:
		return
	case math.IsNaN(c.full):
		c.closed = r.Value == 1
	case c.told:
		c.closed = r.Value >= emptied*c.full
	default:
		c.closed = r.Value >= c.full
	}
	if c.closed != was || !known {
		c.since = r.Mono - r.Span
	}
}

// news tells whether the contact has come to stand otherwise than was told, at mono.
func (c *contact) news(mono time.Duration, fan position) bool {
	if c.dust && fan.known && fan.value == 0 {
		c.since = mono // it counts from the fan's start
		return false
	}
	wait := c.on
	if !c.closed {
		wait = c.off
	}
	return c.known && c.closed != c.told && mono-c.since >= wait
}

// tell looks at every contact with the readings that come, and appends a run of kind Contact for each that has news.
func (f *Folder) tell(out []Run, r *reading.Reading) []Run {
	for i := range f.contacts {
		c := &f.contacts[i]
		if c.channel == r.Channel {
			c.read(r)
		}
		again := f.boot == c.restored.boot && r.Mono <= c.restored.end
		if again || !c.news(r.Mono, f.fan) {
			continue
		}
		c.told = c.closed
		out = append(out, Run{Collector: f.collector, Kind: Contact, Boot: f.boot, Start: c.since, End: r.Mono, At: f.lastTime,
			Channels: []Summary{{Channel: c.channel, Mean: c.value, SE: math.NaN(), SD: math.NaN(), N: 1, ZeroAge: -1}}})
	}
	return out
}

// isContact tells whether a channel is that of a contact or a scale.
func (f *Folder) isContact(channel string) bool {
	for i := range f.contacts {
		if f.contacts[i].channel == channel {
			return true
		}
	}
	return false
}

// forgetContacts notes that a new boot knows nothing of where they stand; what was told stays told.
func (f *Folder) forgetContacts() {
	for i := range f.contacts {
		f.contacts[i].known = false
	}
}

// restoreContact takes what a stored run told.
func (f *Folder) restoreContact(run *Run) {
	for i := range f.contacts {
		c := &f.contacts[i]
		if s := run.Channels[0]; s.Channel == c.channel {
			c.told = Closes(s.Mean, c.full)
			c.restored.boot, c.restored.end = run.Boot, run.End
		}
	}
}

// Closes tells whether what a run of kind Contact holds means closed: of a scale, that it is full, and of a switch, whose
// full is NaN, that it is 1.
func Closes(value, full float64) bool {
	if math.IsNaN(full) {
		return value == 1
	}
	return value >= full
}
