package mqttin

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// senmlVersion is the version of RFC 8428; a pack of a later one may mean something else (section 4.4).
const senmlVersion = 10

// record is one record of a pack, with its base fields. Sums and data values are no readings.
type record struct {
	BaseName    *string      `json:"bn"`
	BaseTime    *json.Number `json:"bt"`
	BaseUnit    *string      `json:"bu"`
	BaseValue   *json.Number `json:"bv"`
	BaseVersion *json.Number `json:"bver"`

	Name   string       `json:"n"`
	Unit   string       `json:"u"`
	Value  *json.Number `json:"v"`
	String *string      `json:"vs"`
	Bool   *bool        `json:"vb"`
	Time   json.Number  `json:"t"`
}

// base is what holds from the records before.
type base struct {
	name, unit  string
	time, value float64
}

// resolved is a record with the base worked in (RFC 8428, 4.6).
type resolved struct {
	name string
	raw  raw
	at   float64 // seconds as in raw, for choosing the latest
}

// findRecord picks the record of that name out of a pack, the latest where there are several. Without a name, all
// records that hold a value must be of one.
func findRecord(p []byte, name string) (raw, error) {
	records, err := resolve(p)
	if err != nil {
		return raw{}, err
	}
	var best *resolved
	for i := range records {
		r := &records[i]
		switch {
		case name != "" && r.name != name:
			continue
		case name == "" && best != nil && best.name != r.name:
			return raw{}, fmt.Errorf("the SenML pack holds records %q and %q; name one by field", best.name, r.name)
		}
		if best == nil || r.at >= best.at {
			best = r
		}
	}
	if best == nil {
		return raw{}, fmt.Errorf("the SenML pack has no value for a record named %q", name)
	}
	return best.raw, nil
}

// resolve reads a pack and works the base fields into the records that hold a value.
func resolve(p []byte) ([]resolved, error) {
	var texts []json.RawMessage
	if err := unmarshal(p, &texts); err != nil {
		return nil, err
	}
	var b base
	var out []resolved
	for _, text := range texts {
		var r record
		if err := mustUnderstand(text); err != nil {
			return nil, err
		}
		if err := unmarshal(text, &r); err != nil {
			return nil, err
		}
		if err := b.take(&r); err != nil {
			return nil, err
		}
		one, ok, err := b.apply(&r)
		if err != nil {
			return nil, err
		}
		if ok {
			out = append(out, one)
		}
	}
	return out, nil
}

// mustUnderstand refuses a record with a label that ends in "_": whoever does not know such a label must not use the
// pack (RFC 8428, 4.4).
func mustUnderstand(text json.RawMessage) error {
	var labels map[string]json.RawMessage
	if err := unmarshal(text, &labels); err != nil {
		return err
	}
	for label := range labels {
		if strings.HasSuffix(label, "_") {
			return errors.New("the SenML pack has a label that must be understood, and is not: one that ends in _")
		}
	}
	return nil
}

func (b *base) take(r *record) error {
	if r.BaseVersion != nil {
		if v, err := finite(*r.BaseVersion); err != nil || v > senmlVersion {
			return fmt.Errorf("the SenML pack is of version %s; up to %d is understood", *r.BaseVersion, senmlVersion)
		}
	}
	if r.BaseName != nil {
		b.name = *r.BaseName
	}
	if r.BaseUnit != nil {
		b.unit = *r.BaseUnit
	}
	var err error
	if r.BaseTime != nil {
		if b.time, err = finite(*r.BaseTime); err != nil {
			return err
		}
	}
	if r.BaseValue != nil {
		b.value, err = finite(*r.BaseValue)
	}
	return err
}

// apply works the base into a record; ok is false for one that holds no value.
func (b *base) apply(r *record) (out resolved, ok bool, err error) {
	out.name = b.name + r.Name
	if r.Time != "" {
		if out.at, err = finite(r.Time); err != nil {
			return out, false, err
		}
	}
	out.at += b.time
	out.raw = raw{unit: r.Unit, seconds: out.at}
	if r.Unit == "" {
		out.raw.unit = b.unit
	}
	switch {
	case r.Value != nil:
		var v float64
		if v, err = finite(*r.Value); err == nil {
			v, err = sum(b.value, v)
		}
		out.raw.number = json.Number(strconv.FormatFloat(v, 'g', -1, 64))
	case r.Bool != nil:
		out.raw.word = strconv.FormatBool(*r.Bool)
	case r.String != nil:
		out.raw.word = *r.String
	default:
		return out, false, nil
	}
	return out, true, err
}

func sum(a, b float64) (float64, error) {
	if s := a + b; !math.IsInf(s, 0) {
		return s, nil
	}
	return 0, errors.New("base value and value add up to more than a number can hold")
}

// finite reads a JSON number.
func finite(n json.Number) (float64, error) {
	x, err := n.Float64()
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, fmt.Errorf("%s is not a number that can be held", excerpt([]byte(n)))
	}
	return x, nil
}
