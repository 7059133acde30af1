package verdict

import (
	"math"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// Short is an open machine with less air than it needs, in m³/s.
type Short struct {
	Machine     string
	Flow, Needs float64
}

// Slow is a used run whose air is slower than what carries the dust, in m/s.
type Slow struct {
	Run             string
	Velocity, Least float64
}

// Verdict is what a solved state means for the shop. The lists are in the order of the shop file.
type Verdict struct {
	Short []Short
	Slow  []Slow
	// Suction (Pa, as a size) is the largest in the ducts against what they are rated to bear, and Rating is that of the
	// place where it is: of the run, if it has one of its own, or of the collector. Where no rating is known, Suction is
	// the largest anywhere and Rating is NaN.
	Suction, Rating float64
}

// Fine tells that no machine is short, no used run is slow, and the suction is within the rating where one is known.
func (v Verdict) Fine() bool { return len(v.Short) == 0 && len(v.Slow) == 0 && v.Bears() }

// Bears tells that the suction is within the rating, or that no rating is known.
func (v Verdict) Bears() bool { return !(v.Suction > v.Rating) }

// Of judges one solved state of a collector. To judge many, use For once.
func Of(c *shop.Collector, r *duct.Result) Verdict { return For(c).Of(r) }

// Of judges one solved state, which must be of a model of the judge's collector.
func (j *Judge) Of(r *duct.Result) Verdict {
	var v Verdict
	for _, m := range r.Machines {
		if m.Open && m.Flow < m.Needs { // never where the need is NaN
			v.Short = append(v.Short, Short{m.Name, m.Flow, m.Needs})
		}
	}
	for i, used := range j.Used(r) {
		if f := r.Runs[i]; used && math.Abs(f.Velocity) < j.Least {
			v.Slow = append(v.Slow, Slow{f.Name, math.Abs(f.Velocity), j.Least})
		}
	}
	v.Suction, v.Rating = j.suction(r)
	return v
}

// Slowest is the used run with the slowest air, with its velocity (m/s, as a size). "" and NaN: no run is used.
func (j *Judge) Slowest(r *duct.Result) (run string, velocity float64) {
	velocity = math.NaN()
	for i, used := range j.Used(r) {
		if v := math.Abs(r.Runs[i].Velocity); used && !(v >= velocity) {
			run, velocity = r.Runs[i].Name, v
		}
	}
	return run, velocity
}

// suction finds the place whose suction is the largest part of its rating, or just the largest where none is known.
func (j *Judge) suction(r *duct.Result) (suction, rating float64) {
	suction, rating = -r.InletStatic, j.collector.Rating
	for i, f := range r.Runs {
		here, bears := math.Max(-f.StaticStart, -f.StaticEnd), j.rating[i]
		switch {
		case math.IsNaN(bears) && !math.IsNaN(rating):
			continue
		case math.IsNaN(bears) == math.IsNaN(rating) && !(ratio(here, bears) > ratio(suction, rating)):
			continue
		}
		suction, rating = here, bears
	}
	return suction, rating
}

// ratio is a suction over its rating, or the suction itself where there is none.
func ratio(suction, rating float64) float64 {
	if math.IsNaN(rating) {
		return suction
	}
	return suction / rating
}
