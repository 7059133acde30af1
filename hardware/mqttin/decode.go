package mqttin

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"ductward/internal/quantity"
	"ductward/internal/reading"
)

// MaxPayload is the largest payload that is looked at, in bytes: a SenML pack of some dozen records.
const MaxPayload = 4096

// Want says what a channel expects.
type Want struct {
	Kind      quantity.Kind // of a sensor's number
	Low, High float64       // SI: what the quantity can be at all
	Switch    bool          // 1 or 0, and words for them
	Ports     []string      // of a selector: a number 0..len(Ports), or a name; nil: none
}

// Input is one channel that listens to one topic.
type Input struct {
	Channel string
	Topic   string
	Field   string        // key of a JSON object, "a.b" for one within another; or the name of a SenML record
	Unit    string        // of the number, where the payload does not say
	Stale   time.Duration // how old a value may be
	Want    Want
}

// Stamp is when and how a message arrived.
type Stamp struct {
	Mono     time.Duration
	Time     time.Time // civil; zero while the board's clock is not trusted
	Retained bool      // the broker had kept it: it may be of any age
}

// Refusal is why a message was no reading for one channel.
type Refusal struct {
	Channel string
	Topic   string
	Err     error
}

// Error says which channel and topic, and why.
func (r *Refusal) Error() string {
	return fmt.Sprintf("%s: message on topic %q: %v", r.Channel, r.Topic, r.Err)
}

// Unwrap returns the reason.
func (r *Refusal) Unwrap() error { return r.Err }

// Reasons that a caller may want to tell apart.
var (
	ErrTooLong = fmt.Errorf("the payload is over %d bytes", MaxPayload)
	ErrOld     = errors.New("the value is older than stale: allows")
	ErrAge     = errors.New("the broker kept the message and nothing tells its age; publish with a time (SenML t) or at a steady interval")
)

// Decoder knows the channels of every topic. It is immutable, and safe for concurrent use.
type Decoder struct {
	inputs  []input
	byTopic map[string][]int // indices into inputs, in their order
	topics  []string
}

type input struct {
	Input
	toSI func(float64) float64 // nil: the payload must say its unit
}

// NewDecoder checks the inputs and reports every mistake.
func NewDecoder(inputs []Input) (*Decoder, error) {
	d := &Decoder{byTopic: map[string][]int{}}
	var errs []error
	for _, in := range inputs {
		i, err := check(in)
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", in.Channel, err))
			continue
		}
		if d.byTopic[in.Topic] == nil {
			d.topics = append(d.topics, in.Topic)
		}
		d.byTopic[in.Topic] = append(d.byTopic[in.Topic], len(d.inputs))
		d.inputs = append(d.inputs, i)
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	return d, nil
}

func check(in Input) (input, error) {
	i := input{Input: in}
	switch {
	case in.Topic == "":
		return i, errors.New("topic: is empty")
	case strings.ContainsAny(in.Topic, "+#\x00"):
		return i, fmt.Errorf("topic %q: a channel listens to one topic, so + and # have no place in it", in.Topic)
	case in.Unit == "" || in.Want.Switch || in.Want.Ports != nil:
		return i, nil
	}
	toSI, err := unit(in.Want.Kind, in.Unit)
	i.toSI = toSI
	return i, err
}

// Topics lists the topics, each once, in the order of the inputs.
func (d *Decoder) Topics() []string { return d.topics }

// Decode turns one message into the readings of the channels that listen to its topic. The error joins a *Refusal for
// each channel that it was no reading for; the readings of the others are good all the same. Boot and Seq are left to
// the caller.
func (d *Decoder) Decode(topic string, payload []byte, at Stamp) ([]reading.Reading, error) {
	var out []reading.Reading
	var errs []error
	for _, i := range d.byTopic[topic] {
		r, err := d.inputs[i].decode(payload, at)
		if err != nil {
			errs = append(errs, &Refusal{Channel: d.inputs[i].Channel, Topic: topic, Err: err})
			continue
		}
		out = append(out, r)
	}
	return out, errors.Join(errs...)
}

// raw is a value as a payload holds it.
type raw struct {
	number  json.Number // "" when it is a word
	word    string
	unit    string  // "" when the payload does not say
	seconds float64 // SenML time; 0: now
}

func (in *input) decode(payload []byte, at Stamp) (reading.Reading, error) {
	if len(payload) > MaxPayload {
		return reading.Reading{}, ErrTooLong
	}
	v, err := find(payload, in.Field)
	if err != nil {
		return reading.Reading{}, err
	}
	when, err := in.when(v.seconds, at)
	if err != nil {
		return reading.Reading{}, err
	}
	si, err := in.value(v)
	if err != nil {
		return reading.Reading{}, err
	}
	return reading.Reading{Channel: in.Channel, Value: si, Time: when, SD: math.NaN(), N: 1, Mono: at.Mono}, nil
}

// find picks the value out of the payload by its first byte.
func find(payload []byte, field string) (raw, error) {
	p := bytes.TrimSpace(payload)
	if len(p) == 0 {
		return raw{}, errors.New("the payload is empty")
	}
	switch {
	case p[0] == '[':
		return findRecord(p, field)
	case p[0] == '{':
		return findField(p, field)
	case field != "":
		return raw{}, fmt.Errorf("field %q is asked for, and the payload is no JSON object: %s", field, excerpt(p))
	}
	if p[0] == '"' {
		var word string
		if err := unmarshal(p, &word); err != nil {
			return raw{}, err
		}
		return raw{word: word}, nil
	}
	return plain(string(p)), nil
}

// findField looks for a key of an object; where there is none, for "a.b" as key b of the object a.
func findField(p []byte, field string) (raw, error) {
	if field == "" {
		return raw{}, errors.New("the payload is a JSON object; name the key by field")
	}
	var object map[string]json.RawMessage
	if err := unmarshal(p, &object); err != nil {
		return raw{}, err
	}
	v, ok := object[field]
	if !ok {
		outer, inner, dotted := strings.Cut(field, ".")
		if o := object[outer]; dotted && len(o) > 0 && o[0] == '{' {
			return findField(o, inner)
		}
		return raw{}, fmt.Errorf("the JSON object has no key %q", field)
	}
	switch v[0] {
	case '{', '[':
		return raw{}, fmt.Errorf("key %q holds an object or a list, not a value", field)
	case '"':
		var word string
		if err := unmarshal(v, &word); err != nil {
			return raw{}, err
		}
		return plain(strings.TrimSpace(word)), nil
	}
	return plain(string(v)), nil
}

// plain tells a number from a word.
func plain(s string) raw {
	if strings.Trim(s, "0123456789+-.eE") == "" && strings.ContainsAny(s, "0123456789") {
		return raw{number: json.Number(s)}
	}
	return raw{word: s}
}

// unmarshal takes exactly one JSON value and nothing behind it.
func unmarshal(p []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(p))
	d.UseNumber()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("the payload is no valid JSON: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("the payload is no valid JSON: something follows the value")
	}
	return nil
}

// excerpt quotes the beginning of what came, for messages.
func excerpt(p []byte) string {
	const most = 40
	if len(p) > most {
		return fmt.Sprintf("%q…", p[:most])
	}
	return fmt.Sprintf("%q", p)
}
