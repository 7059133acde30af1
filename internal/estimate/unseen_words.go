package estimate

import (
	"fmt"

	"ductward/internal/shop"
)

// gateLacks says what it costs that some gates tell nothing, and what would help.
func (e *Estimator) gateLacks() []string {
	if e.viewer == nil {
		return nil
	}
	var mute []string
	for _, g := range e.collector.Gates {
		if g.Position == nil {
			mute = append(mute, g.Name)
		}
	}
	switch guessed, unsure := e.lately(); {
	case e.cal == nil && (e.plainUsed || len(mute) > 0):
		return []string{"The positions of gates are not known" + ofGates(mute) + ": until there is a baseline of some days on which they are, only the filter is followed. Switches would tell them, or entering them by hand (position: by hand) for a week; from then on the pressures tell which are open, where that is sure."}
	case guessed+unsure > 0:
		words := fmt.Sprintf("Where gates tell nothing, the pressures tell which are open: in %.0f %% of such runs of the last days surely enough to be used. The others serve the filter and the running state alone. Switches on the gates would make every run count",
			100*float64(guessed)/float64(guessed+unsure))
		if e.taps() < 2 {
			words += "; a static tap at the far end of the trunk would tell more of them apart"
		}
		return []string{words + "."}
	case len(mute) > 0:
		return []string{"The positions of gates are not known" + ofGates(mute) + ": the pressures tell which are open, where that is sure. Switches would make every run count."}
	}
	return nil
}

// ofGates names some of the gates that tell nothing.
func ofGates(names []string) string {
	switch n := len(names); {
	case n == 0:
		return ""
	case n <= 4:
		return " (" + listWords(names) + ")"
	default:
		return fmt.Sprintf(" (%s and %d more)", names[0], n-1)
	}
}

// lately counts the runs of the last days whose gates were told by the pressures, surely and not.
func (e *Estimator) lately() (guessed, unsure int) {
	for _, d := range e.summary[max(len(e.summary)-5, 0):] {
		guessed, unsure = guessed+d.Guessed, unsure+d.Unsure
	}
	return guessed, unsure
}

// taps counts the sensors of static pressure.
func (e *Estimator) taps() int {
	n := 0
	for _, s := range e.collector.Sensors {
		if s.Measures == shop.StaticPressure {
			n++
		}
	}
	return n
}
