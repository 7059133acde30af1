package mqttin

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"ductward/internal/quantity"
)

// ahead is how far a message's own time may lie after the board's before it is not believed: two clocks that are set
// over the network differ by far less.
const ahead = time.Minute

// when judges how old the value is and returns its label in civil time, zero where there is none.
func (in *input) when(seconds float64, at Stamp) (time.Time, error) {
	age, known := ageOf(seconds, at)
	switch {
	case !known && at.Retained:
		return time.Time{}, ErrAge
	case !known || at.Time.IsZero() && age <= in.Stale:
		return at.Time, nil
	case age > in.Stale:
		return time.Time{}, fmt.Errorf("%w: %s, and at most %s", ErrOld, age.Round(time.Second), in.Stale)
	}
	return at.Time.Add(-age), nil
}

// relativeBelow divides SenML times: values below it count from now, others from 1970 (RFC 8428, 4.5.3).
const relativeBelow = 1 << 28

// ageOf returns the age that a SenML time gives to a value, and whether it can be known.
func ageOf(seconds float64, at Stamp) (time.Duration, bool) {
	if seconds < relativeBelow {
		// From now, that is from when it was sent. How long the broker kept it nobody knows. A value of 0 is the same
		// as none at all.
		if at.Retained {
			return 0, false
		}
		return max(duration(-seconds), 0), seconds != 0
	}
	if at.Time.IsZero() {
		return 0, false
	}
	age := at.Time.Sub(time.Unix(0, 0)) - duration(seconds)
	if age < -ahead {
		return 0, false
	}
	return max(age, 0), true
}

// duration turns seconds into a duration, and what is too long into the longest.
func duration(seconds float64) time.Duration {
	const longest = math.MaxInt64 / 2
	ns := seconds * 1e9
	if ns >= longest {
		return longest
	}
	if ns <= -longest {
		return -longest
	}
	return time.Duration(ns)
}

// value turns what the payload holds into the channel's value.
func (in *input) value(v raw) (float64, error) {
	switch {
	case in.Want.Ports != nil:
		return port(v, in.Want.Ports)
	case in.Want.Switch:
		return position(v)
	}
	return in.number(v)
}

func (in *input) number(v raw) (float64, error) {
	x, err := parse(v)
	if err != nil {
		return 0, err
	}
	toSI := in.toSI
	if v.unit != "" {
		if toSI, err = unit(in.Want.Kind, v.unit); err != nil {
			return 0, err
		}
	}
	if toSI == nil {
		return 0, errors.New("neither the payload nor unit: says what unit the number has")
	}
	si := toSI(x)
	if !(si >= in.Want.Low && si <= in.Want.High) {
		return 0, fmt.Errorf("the value %s is %g in SI units, outside %g to %g", v.number, si, in.Want.Low, in.Want.High)
	}
	return si, nil
}

// parse reads a decimal number. Words such as "nan" and "inf" never come so far as to be numbers, and one that is too
// large for a float64 is an error.
func parse(v raw) (float64, error) {
	if v.number == "" {
		return 0, fmt.Errorf("%s is not a number", excerpt([]byte(v.word)))
	}
	x, err := strconv.ParseFloat(string(v.number), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, fmt.Errorf("%s is not a number that can be held", excerpt([]byte(v.number)))
	}
	return x, nil
}

// senmlUnits gives our names to units of the SenML registry (RFC 8428 section 12.1 and the IANA registry) where they
// differ.
var senmlUnits = map[string]string{"Cel": "degC", "%RH": "%"}

// unit returns the conversion of a unit to SI. SenML's "/" is a bare ratio.
func unit(kind quantity.Kind, name string) (func(float64) float64, error) {
	if name == "/" && (kind == quantity.Ratio || kind == quantity.Humidity) {
		return func(x float64) float64 { return x }, nil
	}
	if own, ok := senmlUnits[name]; ok {
		name = own
	}
	return quantity.ParseUnit(kind, name)
}

// position reads a switch: 1 open or running, 0 shut or at rest.
func position(v raw) (float64, error) {
	text := v.word
	if v.number != "" {
		text = string(v.number)
	}
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "1", "1.0", "open", "opened", "on", "true":
		return 1, nil
	case "0", "0.0", "shut", "closed", "off", "false":
		return 0, nil
	}
	return 0, fmt.Errorf("%s is no position; a switch says 1 or 0, open or shut, on or off, true or false", excerpt([]byte(text)))
}

// port reads a selector: the number of a port, its name, or 0 or "none".
func port(v raw, ports []string) (float64, error) {
	if v.number != "" {
		x, err := parse(v)
		if err != nil {
			return 0, err
		}
		if x < 0 || x > float64(len(ports)) || x != math.Trunc(x) {
			return 0, fmt.Errorf("%s is no port; there are 1 to %d, and 0 for none", v.number, len(ports))
		}
		return math.Abs(x), nil // so that "-0" is 0
	}
	if strings.EqualFold(v.word, "none") {
		return 0, nil
	}
	for i, name := range ports {
		if strings.EqualFold(v.word, name) {
			return float64(i + 1), nil
		}
	}
	return 0, fmt.Errorf("%s is no port; there are %q", excerpt([]byte(v.word)), ports)
}
