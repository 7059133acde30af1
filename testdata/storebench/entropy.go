package main

import (
	"math"

	"ductward/internal/reading"
)

// entropy counts the residuals of simple predictors over the pressures, in the counts of the chip: the last value, the
// means of the last 4 and of the last 32, and the straight line through the last two. Each pressure, while the fan
// runs and while it stands, has a histogram of its own.
type entropy struct {
	counts [pressures][2][4]map[int64]int
	n      [2]int
	past   [pressures][]int64
}

const longest = 32

func newEntropy(length int) *entropy {
	e := new(entropy)
	for c := range e.counts {
		e.past[c] = make([]int64, 0, length)
		for s := range e.counts[c] {
			for p := range e.counts[c][s] {
				e.counts[c][s][p] = map[int64]int{}
			}
		}
	}
	return e
}

// add takes one reading of each channel; the pressures come first.
func (e *entropy) add(rs []reading.Reading, running bool) {
	state := 0
	if running {
		state = 1
	}
	for c := range e.past {
		x := int64(math.Round(rs[c].Value * 60))
		if w := e.past[c]; len(w) >= longest {
			e.n[state]++
			for p, g := range predictions(w) {
				e.counts[c][state][p][x-g]++
			}
		}
		e.past[c] = append(e.past[c], x)
	}
}

func predictions(w []int64) [4]int64 {
	mean := func(n int) int64 {
		sum := int64(0)
		for _, x := range w[len(w)-n:] {
			sum += x
		}
		return int64(math.Round(float64(sum) / float64(n)))
	}
	last := w[len(w)-1]
	return [4]int64{last, mean(4), mean(longest), 2*last - w[len(w)-2]}
}

// bits are bits a reading.
type bits struct{ all, running, standing float64 }

// best returns the order-0 entropies of the residuals of the one predictor that is best for all pressures.
func (e *entropy) best() bits {
	least := [2]float64{math.Inf(1)}
	for p := range e.counts[0][0] {
		var total [2]float64
		for c := range e.counts {
			for s := range total {
				total[s] += bitsOf(e.counts[c][s][p])
			}
		}
		if total[0]+total[1] < least[0]+least[1] {
			least = total
		}
	}
	return e.each(least)
}

// mixed is best with a predictor for each pressure and state of the fan: what a code that may switch can reach.
func (e *entropy) mixed() bits {
	var total [2]float64
	for c := range e.counts {
		for s := range e.counts[c] {
			least := math.Inf(1)
			for _, h := range e.counts[c][s] {
				least = min(least, bitsOf(h))
			}
			total[s] += least
		}
	}
	return e.each(total)
}

func (e *entropy) each(total [2]float64) bits {
	return bits{all: (total[0] + total[1]) / float64(e.n[0]+e.n[1]), running: total[1] / float64(e.n[1]),
		standing: total[0] / float64(e.n[0])}
}

// bitsOf returns what an ideal code of a histogram takes for all that it counts.
func bitsOf(h map[int64]int) (sum float64) {
	n := 0
	for _, k := range h {
		n += k
	}
	for _, k := range h {
		sum -= float64(k) * math.Log2(float64(k)/float64(n))
	}
	return sum
}
