package nexttest

import (
	"math"
	"sort"
	"time"
)

// Lengths are the lengths of a run that are tried, shortest first: below two minutes the turbulence of the air decides,
// beyond ten nobody waits (common practice, no source).
var Lengths = []time.Duration{2 * time.Minute, 3 * time.Minute, 4 * time.Minute, 5 * time.Minute, 6 * time.Minute, 8 * time.Minute, 10 * time.Minute}

// enough is the share of the longest run's gain at which a shorter one will do.
const enough = 0.9

// Advice is a test with what it should bring.
type Advice struct {
	Test     int           // its number among those that were ranked
	Duration time.Duration // the shortest of Lengths that brings most of what the longest would
	Outcome                // at that duration
	Contrast Contrast
}

// Contrast is where a test shows most plainly which of two suspects it is: why it is worth making.
type Contrast struct {
	A, B    int     // suspects of two groups, the likelier first; both 0: there are no two
	Channel int     // where they differ most
	Shift   float64 // of A's mean there over B's
	SD      float64 // of what a run reads there, given the suspect
}

// Rank returns the best tests by their gain, at most as many as are wanted; of two that are alike the earlier one comes
// first. A test that cannot be reckoned is an error.
func Rank(b Belief, tests []Test, most int) ([]Advice, error) {
	order, err := sortOut(b, tests, most+spare)
	if err != nil {
		return nil, err
	}
	var out []Advice
	for _, i := range order {
		a, err := advise(b, &tests[i])
		if err != nil {
			return nil, err
		}
		a.Test = i
		out = append(out, a)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Gain > out[j].Gain })
	return out[:min(most, len(out))], nil
}

// spare is how many tests more than are wanted are looked at closely, since the first look is a rough one.
const spare = 3

// sortOut returns the numbers of the tests that seem best at a rough look, in their own order.
func sortOut(b Belief, tests []Test, most int) ([]int, error) {
	gain, order := make([]float64, len(tests)), make([]int, len(tests))
	for i := range tests {
		o, err := expect(b, &tests[i], Lengths[len(Lengths)-1], rough)
		if err != nil {
			return nil, err
		}
		gain[i], order[i] = o.Gain, i
	}
	sort.SliceStable(order, func(i, j int) bool { return gain[order[i]] > gain[order[j]] })
	order = order[:min(most, len(order))]
	sort.Ints(order)
	return order, nil
}

// advise finds the length of a test.
func advise(b Belief, t *Test) (Advice, error) {
	longest := Lengths[len(Lengths)-1]
	most, err := Expect(b, t, longest)
	if err != nil {
		return Advice{}, err
	}
	out := Advice{Duration: longest, Outcome: most}
	low, high := 0, len(Lengths)-1
	for low < high { // the gain grows with the length
		i := (low + high) / 2
		o, err := Expect(b, t, Lengths[i])
		if err != nil {
			return Advice{}, err
		}
		if o.Gain >= enough*most.Gain {
			high, out.Duration, out.Outcome = i, Lengths[i], o
		} else {
			low = i + 1
		}
	}
	out.Contrast, err = contrast(b, t, out.Duration)
	return out, err
}

// contrast finds the pair of suspects whose parting is worth most: both likely, and far apart.
func contrast(b Belief, t *Test, d time.Duration) (Contrast, error) {
	weight, _, err := b.shares()
	if err != nil {
		return Contrast{}, err
	}
	var out Contrast
	best := 0.0
	for i := range weight {
		for j := i + 1; j < len(weight); j++ {
			if b.Group[i] == b.Group[j] {
				continue
			}
			c, apart := between(t, i, j, d)
			if worth := weight[i] * weight[j] * (1 - math.Exp(-apart*apart/8)); worth > best {
				best, out = worth, c
				if weight[j] > weight[i] {
					out.A, out.B, out.Shift = c.B, c.A, -c.Shift
				}
			}
		}
	}
	return out, nil
}

// between tells two suspects apart by the channel that does it best, and by how many standard deviations.
func between(t *Test, i, j int, d time.Duration) (Contrast, float64) {
	a, b := t.covariance(i, d), t.covariance(j, d)
	c := Contrast{A: i, B: j}
	best := -1.0
	for ch := range t.channels() {
		shift := t.Mean[i][ch] - t.Mean[j][ch]
		sd := math.Sqrt((a.At(ch, ch) + b.At(ch, ch)) / 2)
		if z := math.Abs(shift) / sd; z > best {
			best, c.Channel, c.Shift, c.SD = z, ch, shift, sd
		}
	}
	return c, best
}
