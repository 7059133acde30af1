package daemon

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/diagnosis"
	"ductward/internal/outbox"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// outward turns what happens into messages. The methods taken, tick and alarms belong to the fold; run has a goroutine of its
// own (broker.go).
type outward struct {
	values    *values
	estimated *estimateBox
	broker    broker
	pace      pace
	log       *slog.Logger

	tells    *teller // whose outbox holds what is to be published of alarms
	root     string  // PREFIX/SHOP
	to       []string
	nextTick time.Duration
	told     map[string]time.Time // by collector: the moment of the estimate that was sent last
	seq      uint64               // of the last estimate that was put, in this boot
}

func newOutward(s *shop.Shop, k keeper, tells *teller, p pace, log *slog.Logger) (*outward, error) {
	m := s.Outbound.MQTT
	prefix := m.Prefix
	if prefix == "" {
		prefix = "ductward"
	}
	root := topic(prefix, level(s.Name))
	o := &outward{tells: tells, estimated: newEstimateBox(), pace: p, log: log, root: root,
		to: append([]string{}, s.Outbound.Targets()...), told: map[string]time.Time{},
		values: newValues(k, tells.clk, newPacker(s, root, p.publish), tells.boot)}
	var err error
	o.broker, err = newBroker(m, root+"/status")
	return o, err
}

// taken hears what the store has taken, and until when that is all. A switch that has moved is told at once.
func (o *outward) taken(rs []reading.Reading, until time.Duration) {
	over := o.values.settle(until)
	if over || slices.ContainsFunc(rs, func(r reading.Reading) bool { return reading.IsSwitch(r.Channel) }) {
		o.estimated.ring()
	}
}

// tick sends the newest estimates, once a minute.
func (o *outward) tick(mono time.Duration, snap *watch.Snapshot) {
	if mono < o.nextTick || snap == nil {
		return
	}
	o.nextTick = mono + o.pace.publish
	for i := range snap.Collectors {
		c := &snap.Collectors[i]
		at, sent := o.told[c.Name]
		if sent && c.Now.At.Equal(at) {
			continue
		}
		if pack := senmlEstimate(topic(c.Name, "estimate"), &c.Now); pack != nil {
			o.told[c.Name] = c.Now.At
			o.seq++ // the names of its numbers stand behind the pack's base name
			o.estimated.put(message{topic: o.root + "/" + topic(c.Name, "estimate"), payload: packJSON(append(pack,
				senmlNumber("boot", float64(o.tells.boot)), senmlNumber("seq", float64(o.seq)))...)})
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
