package live

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"ductward/internal/shop"
)

// Step is one thing that a person does at a sensor, after which it is looked at.
type Step struct {
	Do  string        // what to do first, safest first
	Fan Fan           // how the fan stands then
	For time.Duration // that the sensor is left alone and looked at
}

// The steps of a guide, by index.
const (
	tubesOff = iota
	tubesOn
	fanOn
)

// steps are what a person goes through for one pressure sensor. Nothing in them shuts a gate.
var steps = [...]Step{
	tubesOff: {"Stop the fan and wait until the wheel stands; lock it out. Take both tubes off the sensor, so that both ports are open to the room.", Standing, 15 * time.Second},
	tubesOn:  {"Put both tubes back on. The fan stays off.", Standing, 15 * time.Second},
	fanOn:    {"Take the lock off, open the gates that the shop usually works with, and start the fan. No machine cuts. Wait until the fan is up to speed.", Running, 15 * time.Second},
}

// Seen is what a sensor showed after a step.
type Seen struct {
	Mean, Noise float64
	Samples     int
	Fault       error // nil: it had a value
}

// Finding is what one step told.
type Finding struct {
	Fine bool
	Text string
}

// ErrNotGuided is wrapped where a channel cannot be gone through.
var ErrNotGuided = errors.New("only a pressure sensor on tubes can be gone through")

// Guide goes through one pressure sensor: its zero with its tubes off, with them on, and its sign with the fan running.
// ask tells a person what to do and returns once it has been done; found tells what was seen. A step that is not fine
// does not end it: the next one may tell why.
func (w *Watch) Guide(ctx context.Context, channel string, ask func(n, of int, s Step) error, found func(Seen, Finding)) (fine bool, err error) {
	r := w.by[channel]
	if r == nil || r.sensor == nil || !isDifference(r.sensor.Measures) || r.byHand {
		return false, fmt.Errorf("channel %q: %w", channel, ErrNotGuided)
	}
	var seen [len(steps)]Seen
	fine = true
	for i, s := range steps {
		if err := ask(i+1, len(steps), s); err != nil {
			return false, err
		}
		if err := w.settle(ctx, s); err != nil {
			return false, err
		}
		seen[i] = w.saw(channel)
		f := tell(i, &seen, r)
		fine = fine && f.Fine
		found(seen[i], f)
	}
	return fine, nil
}

// settling is let go by after each step: hands leave the tubes, and the last of a fan's run-up passes.
const settling = 5 * time.Second

// settle waits and then looks.
func (w *Watch) settle(ctx context.Context, s Step) error {
	w.Say(s.Fan)
	if err := w.For(ctx, settling, nil); err != nil {
		return err
	}
	w.Say(s.Fan)
	return w.For(ctx, s.For-settling, nil)
}

func (w *Watch) saw(channel string) Seen {
	for _, r := range w.Rows() {
		if r.Channel != channel {
			continue
		}
		s := Seen{Mean: r.Mean, Noise: r.Noise, Samples: r.Samples}
		switch {
		case r.Fault != nil:
			s.Fault = r.Fault
		case r.Samples < enough:
			s.Fault = fmt.Errorf("%s: only %d values came, where %d are needed; make its interval shorter for this", channel, r.Samples, enough)
		}
		return s
	}
	return Seen{Mean: math.NaN(), Noise: math.NaN(), Fault: ErrNotGuided}
}

// tell says what the last step showed.
func tell(step int, seen *[len(steps)]Seen, r *row) Finding {
	now := seen[step]
	if now.Fault != nil {
		return Finding{Text: now.Fault.Error()}
	}
	switch step {
	case tubesOff:
		return tellZero(now, zeroBound(r.source)-draught)
	case tubesOn:
		return tellTubes(now, seen[tubesOff])
	}
	return tellFan(now, seen, r)
}

// tellZero judges the part alone: both ports feel the room.
func tellZero(now Seen, bound float64) Finding {
	bound = math.Max(bound, 3*now.Noise)
	if math.Abs(now.Mean) > bound {
		return Finding{Text: fmt.Sprintf("Its zero is %.1f Pa, where %.1f Pa at most is sound: let it warm up and try again; mount it as its datasheet says; replace it if it stays so.", now.Mean, bound)}
	}
	return Finding{true, fmt.Sprintf("Its zero is %.1f Pa, within the %.1f Pa that its kind may be off.", now.Mean, bound)}
}

// tellTubes judges what the tubes bring while the fan stands: a zero that is taken now would swallow it.
func tellTubes(now, off Seen) Finding {
	change := now.Mean - off.Mean
	if off.Fault != nil || math.Abs(change) <= draught+3*math.Max(now.Noise, off.Noise) {
		return Finding{true, fmt.Sprintf("It reads %.1f Pa with its tubes on: nothing presses on them.", now.Mean)}
	}
	return Finding{Text: fmt.Sprintf("The tubes bring %.1f Pa while the fan stands: another fan on the same ducts, a draught in the stack, or water in a tube. A zero that is taken now would be wrong by that much.", change)}
}

// tellFan judges sign, size and life of the pressure.
func tellFan(now Seen, seen *[len(steps)]Seen, r *row) Finding {
	rest := seen[tubesOff]
	if rest.Fault != nil {
		rest.Mean, rest.Noise = 0, 0
	}
	change := now.Mean - rest.Mean
	bound := draught + 3*math.Max(now.Noise, rest.Noise)
	suction := r.sensor.Measures == shop.StaticPressure
	switch {
	case math.Abs(change) <= bound:
		return Finding{Text: fmt.Sprintf("The fan moves it by %.1f Pa only: look for a tube that is off, kinked or plugged, and whether the fan runs.", change)}
	case change > 0 == suction:
		return Finding{Text: fmt.Sprintf("The sign is wrong: it reads %.0f Pa and should be %s. Exchange its two tubes, or write \"swapped: %s\" in the shop file.", now.Mean, sign(suction), yesNo(!r.source.Swapped))}
	case math.Abs(change) > turbulent && now.Noise < quiet:
		return Finding{Text: fmt.Sprintf("The sign is right, %.0f Pa, but it moves by only %.2f Pa from sample to sample: look for a plugged tap or water in a tube.", now.Mean, now.Noise)}
	}
	return Finding{true, fmt.Sprintf("The sign is right: %.0f Pa, with %.1f Pa of noise from sample to sample.", now.Mean, now.Noise)}
}

func sign(suction bool) string {
	if suction {
		return "below zero, since the duct is under suction"
	}
	return "above zero"
}
