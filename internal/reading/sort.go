package reading

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"
)

// Compare orders readings as they are stored: by boot, monotonic time and sequence.
func Compare(a, b Reading) int {
	return cmp.Or(cmp.Compare(a.Boot, b.Boot), cmp.Compare(a.Mono, b.Mono), cmp.Compare(a.Seq, b.Seq))
}

// Sort sorts rs in place as they are stored, drops doubles, and returns what is left and how many were dropped. With a
// boot, a double is a reading of the same channel, boot and sequence; without, one that says the same of the same
// channel and time. Mono of readings without a boot is counted from the first of them, so that it is never below zero.
func Sort(rs []Reading) (sorted []Reading, doubles int) {
	slices.SortStableFunc(rs, Compare)
	var origin time.Duration
	if len(rs) > 0 && rs[0].Boot == 0 {
		origin = rs[0].Mono
	}
	type numbered struct {
		channel string
		boot    uint32
		seq     uint64
	}
	sequences := map[numbered]struct{}{}
	sorted = rs[:0]
	for _, r := range rs {
		if r.Boot != 0 {
			key := numbered{r.Channel, r.Boot, r.Seq}
			if _, double := sequences[key]; double {
				doubles++
				continue
			}
			sequences[key] = struct{}{}
		} else {
			r.Mono -= origin
			if repeats(sorted, &r) {
				doubles++
				continue
			}
		}
		sorted = append(sorted, r)
	}
	return sorted, doubles
}

// repeats tells whether one of the readings at the end of sorted, of the same time as r, says the same.
func repeats(sorted []Reading, r *Reading) bool {
	for i := len(sorted) - 1; i >= 0 && sorted[i].Boot == r.Boot && sorted[i].Mono == r.Mono; i-- {
		o := &sorted[i]
		if o.Channel != r.Channel {
			continue
		}
		// Only the newest of the channel counts: a switch may open, shut and open again within one stamp.
		return same(o.Value, r.Value) && o.Span == r.Span && same(o.SD, r.SD) && o.N == r.N && o.Quality == r.Quality
	}
	return false
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// mostMistakes is how many mistakes of a file are named at once.
const mostMistakes = 20

// ReadAll reads a whole file, sorts it and drops doubles, and tells how many there were. The error names every mistake,
// or the first 20; then no readings are returned.
func ReadAll(r io.Reader, name string, units Units) (rs []Reading, doubles int, err error) {
	var errs []error
	for x, err := range ReadCSV(r, name, units) {
		switch {
		case err == nil:
			rs = append(rs, x)
		case len(errs) == mostMistakes:
			return nil, 0, errors.Join(append(errs, fmt.Errorf("%s: and more mistakes after these", name))...)
		default:
			errs = append(errs, err)
		}
	}
	if len(errs) > 0 {
		return nil, 0, errors.Join(errs...)
	}
	rs, doubles = Sort(rs)
	return rs, doubles, nil
}
