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
	told    Told          // last
}

// Told is what was told last of a contact or scale.
type Told struct {
	Closed bool
	Boot   uint32        // 0: nothing yet
	End    time.Duration // monotonic
}

// before tells whether it was told before a moment; readings from up to it, which a restart folds again, tell nothing new.
func (t Told) before(boot uint32, mono time.Duration) bool {
	return t.Boot < boot || t.Boot == boot && t.End < mono
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
	case c.told.Closed:
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
	return c.known && c.closed != c.told.Closed && mono-c.since >= wait
}

// tell looks at every contact with the readings that come, and appends a run of kind Contact for each that has news.
func (f *Folder) tell(out []Run, r *reading.Reading) []Run {
	for i := range f.contacts {
		c := &f.contacts[i]
		if c.channel == r.Channel {
			c.read(r)
		}
		if !c.told.before(f.boot, r.Mono) || !c.news(r.Mono, f.fan) {
			continue
		}
		c.told = Told{c.closed, f.boot, r.Mono}
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

// Knows tells whether a run of kind Contact has been told, here or to what this folder goes on from.
func (f *Folder) Knows(run *Run) bool {
	if run.Kind != Contact || len(run.Channels) != 1 {
		return false
	}
	for i := range f.contacts {
		if c := &f.contacts[i]; run.Channels[0].Channel == c.channel {
			return !c.told.before(run.Boot, run.End)
		}
	}
	return false
}

// restoreContact takes what a stored run told.
func (f *Folder) restoreContact(run *Run) {
	for i := range f.contacts {
		c := &f.contacts[i]
		if s := run.Channels[0]; s.Channel == c.channel {
			c.told = Told{Closes(s.Mean, c.full), run.Boot, run.End}
		}
	}
}

// Told returns what was told last of each contact and scale, by channel.
func (f *Folder) Told() map[string]Told {
	out := map[string]Told{}
	for _, c := range f.contacts {
		out[c.channel] = c.told
	}
	return out
}

// SetTold puts it back.
func (f *Folder) SetTold(told map[string]Told) {
	for i := range f.contacts {
		f.contacts[i].told = told[f.contacts[i].channel]
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
