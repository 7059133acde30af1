package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"ductward/internal/reading"
)

// A year's first working day, civil time of the first boot's monotonic zero.
var beginning = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)

const day = 24 * time.Hour

// workload makes the readings of a shop: of each 16 channels, four differential pressures in 16-bit counts, with
// turbulence that is correlated over 5 s while the fan runs and a code or so of noise while it does not; four slow
// ambient values in tenths; eight switches. It is invented, and the same from run to run.
type workload struct {
	names []string
	hz    int
	rng   *rand.Rand
	swirl []float64 // state of the turbulence of each channel
	slow  []float64
	seq   uint64
	keep  float64 // how much of the swirl stays from one reading to the next
	gust  float64 // how much is new, so that its variance is 1
	buf   []reading.Reading
}

var kinds = [16]string{"filter", "static", "velocity", "far tap", "air", "humidity", "barometer", "bin", "saw", "planer",
	"lathe", "sander", "router", "bench", "floor", "fan"}

// pressures is how many of 16 channels are pressures.
const pressures = 4

func newWorkload(channels, hz int) *workload {
	w := &workload{hz: hz, rng: rand.New(rand.NewPCG(20260105, uint64(channels*hz))), names: make([]string, channels),
		swirl: make([]float64, channels), slow: make([]float64, channels)}
	for i := range w.names {
		w.names[i] = fmt.Sprintf("shop%d/%s", i/16, kinds[i%16])
		w.slow[i] = float64(200 + 100*(i%16))
	}
	w.keep = math.Pow(0.8, 1/float64(hz))
	w.gust = math.Sqrt(1 - w.keep*w.keep)
	return w
}

// fanRuns tells whether the fan runs at a time of the civil day: six hours of it.
func fanRuns(sinceMidnight time.Duration) bool {
	return sinceMidnight >= 8*time.Hour && sinceMidnight < 14*time.Hour
}

// counts is what a chip with 60 counts a pascal makes of x counts.
func counts(x float64) float64 { return float64(int16(math.Round(x))) / 60 }

// at gives one reading of each channel; the slice is used again.
func (w *workload) at(boot uint32, mono, sinceMidnight time.Duration) []reading.Reading {
	w.buf = w.buf[:0]
	on := fanRuns(sinceMidnight)
	for i := range w.names {
		w.seq++
		w.buf = append(w.buf, reading.Reading{Channel: w.names[i], Value: w.value(i, on, sinceMidnight), SD: math.NaN(),
			Boot: boot, Mono: mono, Seq: w.seq})
	}
	return w.buf
}

func (w *workload) value(i int, on bool, sinceMidnight time.Duration) float64 {
	kind := i % 16
	switch {
	case kind < pressures && on:
		mean := [pressures]float64{900, -1800, 140, -1500}[kind]
		w.swirl[i] = w.keep*w.swirl[i] + w.gust*w.rng.NormFloat64()
		return counts(15 * (mean + (2+0.01*math.Abs(mean))*w.swirl[i]))
	case kind < pressures:
		return counts(w.rng.NormFloat64() * 0.6)
	case kind < 8:
		if w.rng.IntN(60*w.hz) == 0 {
			w.slow[i] += float64(w.rng.IntN(3) - 1)
		}
		return w.slow[i] / 10
	case kind == 15 && on, kind < 15 && on && int(sinceMidnight/(15*time.Minute))%7 == kind-8:
		return 1
	}
	return 0
}

// stretch plays the readings of a stretch of one boot, and commits as the daemon does: each 30 s while the fan runs and
// each 5 minutes while it does not; commit 0 never.
func (w *workload) stretch(e engine, boot uint32, mono, midnight, length time.Duration, commits bool) (n int, err error) {
	step := time.Second / time.Duration(w.hz)
	next := mono
	for at := mono; at < mono+length; at += step {
		clock := (at + midnight) % day
		if err := e.append(w.at(boot, at, clock)); err != nil {
			return n, err
		}
		if commits && at >= next {
			if err := e.commit(); err != nil {
				return n, err
			}
			n++
			next = at + commitEvery(clock)
		}
	}
	return n, nil
}

func commitEvery(sinceMidnight time.Duration) time.Duration {
	if fanRuns(sinceMidnight) {
		return 30 * time.Second
	}
	return 5 * time.Minute
}
