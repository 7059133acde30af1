package daemon

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"math"
	"slices"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/diagnosis"
	"ductward/internal/outbox"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// outward turns what happens into messages. The methods readings, tick and alarms belong to the fold; run has a
// goroutine of its own (broker.go).
type outward struct {
	box    *valueBox
	broker broker
	pace   pace
	log    *slog.Logger

	tells    *teller // whose outbox holds what is to be published of alarms
	root     string  // PREFIX/SHOP
	to       []string
	sensors  map[string]*digest
	nextTick time.Duration
	told     map[string]time.Time // by collector: the moment of the estimate that was sent last
	seq      uint64               // of the last value that was put, in this boot
}

// digest gathers one channel between two messages.
type digest struct {
	channel string
	topic   string
	unit    string
	factor  float64
	isOn    bool // a switch
	sum     float64
	n       int
	last    time.Time
	quality reading.Quality // the worst of them
	value   float64         // of a switch, as sent; NaN at first and when not known
	sent    bool
}

func newOutward(s *shop.Shop, tells *teller, p pace, log *slog.Logger) (*outward, error) {
	m := s.Outbound.MQTT
	prefix := m.Prefix
	if prefix == "" {
		prefix = "ductward"
	}
	o := &outward{tells: tells, box: newValueBox(), pace: p, log: log, root: topic(prefix, level(s.Name)),
		to: append([]string{}, s.Outbound.Targets()...), sensors: map[string]*digest{},
		told: map[string]time.Time{}}
	for _, c := range s.Collectors {
		for _, sensor := range c.Sensors {
			d := o.channel(c.Name + "/" + sensor.Name)
			d.unit, d.factor = senmlUnit(sensor.Measures)
		}
		o.channel(c.Name + "/fan").isOn = true
		for _, g := range c.Gates {
			o.channel("gate/" + g.Name).isOn = true
		}
		for _, sel := range c.Selectors {
			o.channel("selector/" + sel.Name).isOn = true
		}
		for _, x := range c.Contacts {
			o.channel(shop.ContactChannel(x.Name)).isOn = true
		}
	}
	var err error
	o.broker, err = newBroker(m, o.root+"/status")
	return o, err
}

func (o *outward) channel(name string) *digest {
	d := &digest{channel: name, topic: o.root + "/" + topic(name), value: math.NaN()}
	o.sensors[name] = d
	return d
}

// readings takes what was recorded: a switch that moved is told at once, a sensor's mean with the next tick.
func (o *outward) readings(rs []reading.Reading) {
	for i := range rs {
		r := &rs[i]
		d := o.sensors[r.Channel]
		if d == nil || r.Quality == reading.Late {
			continue
		}
		if !d.isOn {
			d.sum += r.Value
			d.n++
			d.last, d.quality = r.Time, max(d.quality, r.Quality)
			continue
		}
		if d.sent && (r.Value == d.value || math.IsNaN(r.Value) && math.IsNaN(d.value)) {
			continue
		}
		d.sent, d.value = true, r.Value
		name := topic(d.channel)
		o.put(d.topic, name+"/", senmlSwitch(name, r.Value, r.Time), senmlQuality(name, r.Quality))
	}
}

// tick sends, once a minute, the mean of what each sensor has read since, and the newest estimates.
func (o *outward) tick(mono time.Duration, snap *watch.Snapshot) {
	if mono < o.nextTick {
		return
	}
	o.nextTick = mono + o.pace.publish
	for _, d := range o.sensors {
		if d.n == 0 {
			continue
		}
		v := d.sum / float64(d.n) * d.factor
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			name := topic(d.channel)
			o.put(d.topic, name+"/", senml{Name: name, Time: seconds(d.last), Unit: d.unit, Value: &v}, senmlQuality(name, d.quality))
		}
		d.sum, d.n, d.quality = 0, 0, 0
	}
	if snap != nil {
		o.estimates(snap)
	}
}

// put numbers a pack, so that receivers can drop repeats and see gaps, and puts it for the broker. The numbers' names begin
// with a prefix.
func (o *outward) put(topic, prefix string, pack ...senml) {
	o.seq++
	o.box.put(message{topic: topic, payload: packJSON(append(pack, senmlNumber(prefix+"boot", float64(o.tells.boot)),
		senmlNumber(prefix+"seq", float64(o.seq)))...)})
}

func (o *outward) estimates(snap *watch.Snapshot) {
	for i := range snap.Collectors {
		c := &snap.Collectors[i]
		at, sent := o.told[c.Name]
		if sent && c.Now.At.Equal(at) {
			continue
		}
		if pack := senmlEstimate(topic(c.Name, "estimate"), &c.Now); pack != nil {
			o.told[c.Name] = c.Now.At
			o.put(o.root+"/"+topic(c.Name, "estimate"), "", pack...) // its base name stands before theirs
		}
	}
}

// brokerTarget is the broker as a target of the outbox. No target of letters has this name.
const brokerTarget = "mqtt"

// alarms puts how alarms stand into the outbox. The same state put again is dropped there, so that a start may give it all
// that stand.
func (o *outward) alarms(changed []alarm.Alarm) {
	var letters []outbox.Letter
	for i := range changed {
		a := changed[i]
		id, err := stateID(&a)
		if err != nil { // an alarm holds text and times only, of years that JSON can say
			o.log.Error("alarm not published", "id", a.ID, "err", err)
			continue
		}
		letters = append(letters, outbox.Letter{ID: id, Kind: outbox.Standing, Event: a.Event, Priority: a.Priority, Shop: o.tells.shop.Name,
			At: o.tells.clk.Now(), Boot: o.tells.boot, Subject: "state of the alarm " + a.ID, Alarm: &a})
	}
	if len(letters) > 0 {
		t := o.tells
		_ = t.storing.see(t.clk.Mono(), t.box.Put(letters, brokerTarget)) // it was logged; they go out all the same
	}
}

// stateID names one state of one alarm, its words included.
func stateID(a *alarm.Alarm) (string, error) {
	data, err := json.Marshal(a)
	sum := sha256.Sum256(data)
	return fmt.Sprintf("%s.%d.%x", a.ID, a.Changes, sum[:8]), err
}

// publishedAlarm is an alarm as it is published. A repeat has the boot and the number of before.
type publishedAlarm struct {
	alarm.Alarm
	diagnosis.Advice
	To   []string `json:"told_to"` // the targets of letters
	Boot uint32   `json:"boot"`
	Seq  uint64   `json:"seq"`
}

// message is how an alarm stands, as it is published.
func (o *outward) message(it *outbox.Item) message {
	a := it.Letter.Alarm
	payload, err := json.Marshal(publishedAlarm{*a, diagnosis.For(a.Kind()), o.to, it.Letter.Boot, it.Number})
	if err != nil { // it was encoded before it was put
		panic("alarm " + a.ID + ": " + err.Error())
	}
	return message{topic: o.root + "/alarm/" + level(a.ID), payload: payload, kept: true}
}

// repeat sends again how all alarms stand that the broker should hold: it may have forgotten them. One that was given up
// while the broker was away is among them.
func (o *outward) repeat(ctx context.Context, c *connection) error {
	newest := map[string]outbox.Item{}
	for _, it := range o.tells.box.All() {
		if it.Target == brokerTarget {
			newest[it.Letter.Alarm.ID] = it
		}
	}
	for _, id := range slices.Sorted(maps.Keys(newest)) {
		it := newest[id]
		if it.State == outbox.Waiting || it.State == outbox.Delivered && !it.Letter.Alarm.Standing() {
			continue
		}
		if err := c.publish(ctx, o.message(&it)); err != nil {
			return err
		}
	}
	return nil
}

// failed notes that the broker did not take what waits. The outbox says how seldom: each note is written to the card.
func (o *outward) failed(why error) {
	mono := o.tells.clk.Mono()
	if it, _, due := o.tells.box.Next(brokerTarget, mono, false, 0); due {
		_ = o.tells.storing.see(mono, o.tells.box.Failed(it.Number, mono, o.tells.clk.Now(), why)) // logged there
	}
}
