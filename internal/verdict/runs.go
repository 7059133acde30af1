package verdict

import (
	"math"

	"ductward/internal/duct"
)

// Run is what a solved state means to one run.
type Run struct {
	Used    bool    // the air of an open machine goes through it
	Slow    bool    // it is used, and its air is slower than what carries the dust
	Suction float64 // Pa, as a size, at the end where it is larger
	Rating  float64 // Pa that it is rated to bear, by itself or with the collector; NaN: not known
}

// Bears tells that the suction is within the rating, or that no rating is known.
func (r Run) Bears() bool { return !(r.Suction > r.Rating) }

// Runs judges every run of a solved state, in the order of the shop file.
func (j *Judge) Runs(r *duct.Result) []Run {
	out := make([]Run, len(r.Runs))
	for i, used := range j.Used(r) {
		f := r.Runs[i]
		out[i] = Run{
			Used: used, Slow: used && math.Abs(f.Velocity) < j.Least,
			Suction: math.Max(-f.StaticStart, -f.StaticEnd), Rating: j.rating[i],
		}
	}
	return out
}

// Rated tells whether every run is known to be rated, by itself or with the collector: whoever proposes a set of gates that
// the shop does not run anyway must know that, since Bears holds where nothing is known.
func (j *Judge) Rated() bool {
	for _, rating := range j.rating {
		if !(rating > 0) {
			return false
		}
	}
	return len(j.rating) > 0
}

// BearsEverywhere tells whether every run is rated for at least a suction, Pa as a size.
func (j *Judge) BearsEverywhere(suction float64) bool {
	for _, rating := range j.rating {
		if !(rating >= suction) {
			return false
		}
	}
	return len(j.rating) > 0
}
