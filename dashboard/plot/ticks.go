package plot

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// levels returns round values that cover low..high with about n steps, and the decimals that tell them apart.
func levels(low, high float64, n int) ([]float64, int) {
	if high <= low {
		pad := math.Max(math.Abs(low)*0.05, 1e-9)
		low, high = low-pad, high+pad
	}
	raw := (high - low) / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * p
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*p {
			step = m * p
			break
		}
	}
	var out []float64
	first := math.Floor(low/step + overshoot)
	for i := first; ; i++ {
		out = append(out, i*step)
		if i*step >= high-overshoot*step {
			break
		}
	}
	return out, max(0, -int(math.Floor(math.Log10(step)+1e-9)))
}

// overshoot is the part of a step by which a value may lie outside the outermost levels, so that one stray value just
// below zero does not add a step of empty paper.
const overshoot = 0.03

// label writes a level with spaces between thousands and a true minus sign.
func label(v float64, decimals int) string {
	text := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	whole, fraction, point := strings.Cut(text, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "\u00a0" + whole[i:]
	}
	if point {
		whole += "." + fraction
	}
	if v < 0 && strings.Trim(text, "0.") != "" {
		return "−" + whole
	}
	return whole
}

// tick is one label of the time axis.
type tick struct {
	at   time.Time
	text string
}

// rhythm is a way to walk along the time axis.
type rhythm struct {
	step   time.Duration // shorter than a day; 0: by days or months
	days   int
	months int
	layout string
}

// rhythms from fine to coarse.
var rhythms = []rhythm{
	{step: 10 * time.Second, layout: "15:04:05"}, {step: time.Minute, layout: "15:04"}, {step: 5 * time.Minute, layout: "15:04"},
	{step: 15 * time.Minute, layout: "15:04"}, {step: time.Hour, layout: "15:04"}, {step: 3 * time.Hour, layout: "15:04"},
	{step: 6 * time.Hour, layout: "Mon 15:04"}, {days: 1, layout: "2 Jan"}, {days: 2, layout: "2 Jan"},
	{days: 7, layout: "2 Jan"}, {days: 14, layout: "2 Jan"}, {months: 1, layout: "Jan 2006"}, {months: 3, layout: "Jan 2006"},
	{months: 6, layout: "Jan 2006"}, {months: 12, layout: "2006"}, {months: 60, layout: "2006"},
}

// length is about how long one step is.
func (r rhythm) length() time.Duration {
	const day = 24 * time.Hour
	return r.step + time.Duration(r.days)*day + time.Duration(r.months)*30*day
}

// timeTicks labels the time axis with at most n ticks at round local times.
func timeTicks(from, to time.Time, loc *time.Location, n int) []tick {
	r := rhythms[len(rhythms)-1]
	for _, c := range rhythms {
		if to.Sub(from) <= time.Duration(n)*c.length() {
			r = c
			break
		}
	}
	var out []tick
	for t := r.first(from.In(loc)); !t.After(to); t = r.next(t) {
		if !t.Before(from) {
			out = append(out, tick{t, t.Format(r.layout)})
		}
		if len(out) > 4*n { // cannot happen unless a rhythm stands still
			break
		}
	}
	return out
}

// first is a round time at or before t.
func (r rhythm) first(t time.Time) time.Time {
	y, m, d := t.Date()
	midnight := time.Date(y, m, d, 0, 0, 0, 0, t.Location())
	switch {
	case r.months >= 12:
		return time.Date(y-y%(r.months/12), 1, 1, 0, 0, 0, 0, t.Location())
	case r.months > 0:
		return time.Date(y, m-(m-1)%time.Month(r.months), 1, 0, 0, 0, 0, t.Location())
	case r.days >= 7:
		return midnight.AddDate(0, 0, -(int(t.Weekday())+6)%7) // Monday
	case r.days > 0:
		return midnight
	}
	return midnight.Add(t.Sub(midnight) / r.step * r.step)
}

// next is one step on. Days and months go by the calendar, since a day may have 23 or 25 hours.
func (r rhythm) next(t time.Time) time.Time {
	if r.step > 0 {
		return t.Add(r.step)
	}
	return t.AddDate(0, r.months, r.days)
}
