package bound

import (
	"math"
	"math/rand/v2"

	"ductward/internal/detect"
)

// Prior is what is believed of changes before anything is seen.
type Prior struct {
	Share [5]float64 // by kind: that a change is one of it
	Size  [5]float64 // by kind: standard deviation of its size
}

// UsualPrior is that of the watch: leaks and blockages are what mostly happens (common practice, no source).
func UsualPrior() Prior {
	return Prior{Share: [5]float64{0.55, 0.25, 0.06, 0.11, 0.03}, Size: [5]float64{100.0 / 3600, 0.5, 1.0, 0.05, 0.1}}
}

// Place is how often the place of a change is told, over draws of the noise and of how the ducts are built.
type Place struct {
	First      float64 // the right one is the most probable of its branch's kind of places: of all changes
	FirstTwo   float64 // it is among the two most probable leaks
	Sure       float64 // it is stated with at least 0.9
	Branch     float64 // its branch is the most probable one
	BranchSure float64 // its branch is stated with at least 0.9, a leak there and not a blockage
	Kind       float64 // its kind (a leak with nobody's open side among them, a blockage with that) is stated with at least 0.9
	Draws      int
}

// surely is the probability from which on a place counts as told.
const surely = 0.9

// Places draws changes at the given places in turn, all of one size, and counts how often each is told. The seed makes the
// draws the same each time.
func (s *Space) Places(truths []int, size float64, prior Prior, draws int, seed uint64) Place {
	j := newJudge(s, prior)
	rng := rand.New(rand.NewPCG(seed, 0x706c616365))
	var p Place
	if len(truths) == 0 || len(s.a[0]) == 0 {
		return p
	}
	y := make([]float64, len(s.a[0]))
	for n := range draws {
		truth := truths[n%len(truths)]
		s.draw(y, truth, size, rng)
		p.count(s, truth, j.posterior(y))
	}
	p.Draws = draws
	for _, f := range []*float64{&p.First, &p.FirstTwo, &p.Sure, &p.Branch, &p.BranchSure, &p.Kind} {
		*f /= float64(draws)
	}
	return p
}

// draw draws what a change of a size shows.
func (s *Space) draw(y []float64, change int, size float64, rng *rand.Rand) {
	grown := size * math.Exp(s.scale*rng.NormFloat64())
	for i := range y {
		y[i] = rng.NormFloat64() + grown*s.a[change][i]
	}
	for _, w := range s.built[change] {
		x := size * rng.NormFloat64()
		for i := range y {
			y[i] += x * w[i]
		}
	}
}

// count counts what the posterior says.
func (p *Place) count(s *Space, truth int, posterior []float64) {
	is := func(yes bool) float64 {
		if yes {
			return 1
		}
		return 0
	}
	right := s.Changes[truth]
	better, betterLeaks := 0, 0
	branch, kind := map[string]float64{}, 0.0
	for k, ch := range s.Changes {
		if posterior[k] > posterior[truth] {
			better++
			betterLeaks += int(is(ch.Kind == Leak))
		}
		if ch.Kind == Leak && ch.Branch != "" {
			branch[ch.Branch] += posterior[k]
		}
		if leaksInside(ch) == leaksInside(right) && (leaksInside(ch) || ch.Branch == right.Branch && (ch.Kind == Block || ch.OpenSide())) {
			kind += posterior[k]
		}
	}
	most := true
	for _, x := range branch {
		most = most && x <= branch[right.Branch]
	}
	p.First += is(better == 0)
	p.FirstTwo += is(betterLeaks < 2)
	p.Sure += is(posterior[truth] >= surely)
	p.Branch += is(most)
	p.BranchSure += is(branch[right.Branch] >= surely)
	p.Kind += is(kind >= surely)
}

// leaksInside tells that a change is a leak on the collector's side of the gates.
func leaksInside(c Change) bool { return c.Kind == Leak && !c.OpenSide() }

// judge weighs all changes against each other.
type judge struct {
	s     *Space
	ways  []*ways
	prior []float64 // log
	size  []float64
	sign  []float64
}

func newJudge(s *Space, prior Prior) *judge {
	j := &judge{s: s}
	var count [5]float64
	for _, c := range s.Changes {
		count[c.Kind]++
	}
	for k, c := range s.Changes {
		j.ways = append(j.ways, newWays(s, k))
		j.prior = append(j.prior, math.Log(prior.Share[c.Kind]/count[c.Kind]))
		j.size = append(j.size, prior.Size[c.Kind])
		sign := 0.0
		if c.Kind == Leak || c.Kind == Choke {
			sign = 1
		}
		j.sign = append(j.sign, sign)
	}
	return j
}

// posterior returns the probability of each change, one of them being true.
func (j *judge) posterior(y []float64) []float64 {
	out := make([]float64, len(j.ways))
	top := math.Inf(-1)
	for k := range out {
		out[k] = j.prior[k] + j.evidence(k, y)
		top = max(top, out[k])
	}
	sum := 0.0
	for k, l := range out {
		out[k] = math.Exp(l - top)
		sum += out[k]
	}
	for k := range out {
		out[k] /= sum
	}
	return out
}

// evidence returns that of a change against none. How otherwise it may show goes with its size, which is taken as it is
// estimated when nothing of that is known: the integral over both has no closed form.
func (j *judge) evidence(k int, y []float64) float64 {
	w, a, built := j.ways[k], j.s.a[k], j.s.built[k]
	v := dot(a, y)
	if w.aa == 0 {
		return 0
	}
	x := v / (w.aa + 1/sq(j.size[k]))
	if x == 0 || len(built) == 0 || x*j.sign[k] < 0 {
		return detect.Evidence(v, w.aa, j.size[k], j.sign[k])
	}
	q := make([]float64, len(built))
	for m, d := range built {
		q[m] = dot(d, y)
	}
	info, beyond := w.information(x), 0.0
	for m, z := range w.turned(q) {
		f := x * x / (1 + x*x*w.lambda[m])
		v -= f * w.p[m] * z
		beyond += (f*z*z - math.Log1p(x*x*w.lambda[m])) / 2
	}
	return beyond + detect.Evidence(v, info, j.size[k], j.sign[k])
}
