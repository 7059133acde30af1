package daemon

import (
	"math"
	"slices"
	"strings"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/store"
)

// packer makes SenML packs of readings in stored order: a sensor's mean over each window of monotonic time, each move of a
// switch. What it makes depends on the readings alone and not on when it is asked, so that a start that reads them again makes
// the same packs under the same numbers: a pack's number is that of its last reading.
type packer struct {
	root     string // PREFIX/SHOP
	window   time.Duration
	channels []*digest // by name
	byName   map[string]*digest
	boot     uint32 // of the window that is open
	begun    time.Duration
}

// digest gathers one channel.
type digest struct {
	name    string // as a SenML name
	topic   string
	unit    string
	factor  float64
	isOn    bool // a switch
	sum     float64
	n       int
	last    reading.Reading
	quality reading.Quality // the worst of them
	value   float64         // of a switch, as told; NaN when not known
	told    bool
}

func newPacker(s *shop.Shop, root string, window time.Duration) *packer {
	p := &packer{root: root, window: window, byName: map[string]*digest{}}
	for _, c := range s.Collectors {
		for _, sensor := range c.Sensors {
			d := p.channel(c.Name + "/" + sensor.Name)
			d.unit, d.factor = senmlUnit(sensor.Measures)
		}
		p.channel(c.Name + "/fan").isOn = true
		for _, g := range c.Gates {
			p.channel("gate/" + g.Name).isOn = true
		}
		for _, sel := range c.Selectors {
			p.channel("selector/" + sel.Name).isOn = true
		}
		for _, x := range c.Contacts {
			p.channel(shop.ContactChannel(x.Name)).isOn = true
		}
	}
	slices.SortFunc(p.channels, func(a, b *digest) int { return strings.Compare(a.name, b.name) })
	return p
}

func (p *packer) channel(name string) *digest {
	d := &digest{name: topic(name), topic: p.root + "/" + topic(name)}
	p.byName[name] = d
	p.channels = append(p.channels, d)
	return d
}

// take takes the next reading, and returns the packs that are made with it.
func (p *packer) take(r *reading.Reading) []message {
	out := p.until(r.Boot, r.Mono)
	d := p.byName[r.Channel]
	switch {
	case d == nil || r.Quality == reading.Late: // of a part that is not in the shop file any more, or out of its order
	case !d.isOn:
		d.sum += r.Value
		d.n++
		d.last, d.quality = *r, max(d.quality, r.Quality)
	case !d.told || r.Value != d.value && !(math.IsNaN(r.Value) && math.IsNaN(d.value)):
		d.told, d.value = true, r.Value
		out = append(out, d.message(r, senmlSwitch(d.name, r.Value, r.Time), r.Quality))
	}
	return out
}

// until ends the window that is open if a moment, up to which all readings have been taken, is behind it.
func (p *packer) until(boot uint32, mono time.Duration) (out []message) {
	if boot == p.boot && mono < p.begun+p.window {
		return nil
	}
	out = p.end()
	if boot != p.boot { // a switch of another start stood nobody knows where
		for _, d := range p.channels {
			d.told = false
		}
	}
	p.goOn(store.Cursor{Boot: boot, Mono: mono})
	return out
}

// goOn opens the window in which a place lies.
func (p *packer) goOn(at store.Cursor) { p.boot, p.begun = at.Boot, at.Mono/p.window*p.window }

// end makes the packs of the window that is open.
func (p *packer) end() (out []message) {
	for _, d := range p.channels {
		if d.n == 0 {
			continue
		}
		if v := d.sum / float64(d.n) * d.factor; !math.IsNaN(v) && !math.IsInf(v, 0) {
			out = append(out, d.message(&d.last, senml{Name: d.name, Time: seconds(d.last.Time), Unit: d.unit, Value: &v}, d.quality))
		}
		d.sum, d.n, d.quality = 0, 0, 0
	}
	return out
}

// open is the place where the window that is open begins: whoever reads on from there makes every pack that has not been made.
func (p *packer) open() store.Cursor { return store.Cursor{Boot: p.boot, Mono: p.begun} }

func (d *digest) message(last *reading.Reading, value senml, q reading.Quality) message {
	return message{topic: d.topic, payload: packJSON(value, senmlQuality(d.name, q),
		senmlNumber(d.name+"/boot", float64(last.Boot)), senmlNumber(d.name+"/seq", float64(last.Seq)))}
}
