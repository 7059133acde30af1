package daemon

import (
	"encoding/json"
	"log/slog"
	"math"
	"sync"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// outward turns what happens into messages. The methods readings, tick and alarms belong to the fold; run has a
// goroutine of its own (broker.go).
type outward struct {
	box    *topicBox
	broker broker
	pace   pace
	log    *slog.Logger

	boot     uint32
	root     string // PREFIX/SHOP
	sensors  map[string]*digest
	nextTick time.Duration
	told     map[string]time.Time // by collector: the moment of the estimate that was sent last

	mu       sync.Mutex
	standing map[string]alarm.Alarm // what the broker is to know of, should it have forgotten
	seq      uint64                 // of the last alarm that was put
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
	value   float64 // of a switch, as sent; NaN at first and when not known
	sent    bool
}

func newOutward(s *shop.Shop, boot uint32, p pace, log *slog.Logger) (*outward, error) {
	m := s.Outbound.MQTT
	prefix := m.Prefix
	if prefix == "" {
		prefix = "ductward"
	}
	o := &outward{boot: boot, box: newTopicBox(), pace: p, log: log, root: topic(prefix, level(s.Name)), sensors: map[string]*digest{},
		told: map[string]time.Time{}, standing: map[string]alarm.Alarm{}}
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
			d.last = r.Time
			continue
		}
		if d.sent && (r.Value == d.value || math.IsNaN(r.Value) && math.IsNaN(d.value)) {
			continue
		}
		d.sent, d.value = true, r.Value
		o.box.put(message{topic: d.topic, payload: packJSON(senmlSwitch(topic(d.channel), r.Value, r.Time))})
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
			o.box.put(message{topic: d.topic, payload: packJSON(senml{Name: topic(d.channel), Time: seconds(d.last),
				Unit: d.unit, Value: &v})})
		}
		d.sum, d.n = 0, 0
	}
	if snap != nil {
		o.estimates(snap)
	}
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
			o.box.put(message{topic: o.root + "/" + topic(c.Name, "estimate"), payload: packJSON(pack...)})
		}
	}
}

// restore takes the alarms that were there at the start; those that are over need not be told again.
func (o *outward) restore(list []alarm.Alarm) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, a := range list {
		if a.Standing() {
			o.standing[a.ID] = a
		}
	}
}

// alarms sends how alarms stand. The broker keeps the last state of each, the cleared ones too.
func (o *outward) alarms(changed []alarm.Alarm) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, a := range changed {
		o.alarm(a)
		if a.Standing() {
			o.standing[a.ID] = a
		} else {
			delete(o.standing, a.ID)
		}
	}
}

// repeat sends all standing alarms again: a broker that was away may have forgotten them.
func (o *outward) repeat() {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, a := range o.standing {
		o.alarm(a)
	}
}

// publishedAlarm is an alarm as it is published. What a broker hands out again has the boot and the number of before.
type publishedAlarm struct {
	alarm.Alarm
	Boot uint32 `json:"boot"`
	Seq  uint64 `json:"seq"`
}

func (o *outward) alarm(a alarm.Alarm) {
	o.seq++
	payload, err := json.Marshal(publishedAlarm{a, o.boot, o.seq})
	if err != nil { // an alarm holds text and times only, of years that JSON can say
		o.log.Error("alarm not published", "id", a.ID, "err", err)
		return
	}
	o.box.put(message{topic: o.root + "/alarm/" + level(a.ID), payload: payload, kept: true})
}
