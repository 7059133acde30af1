package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Estimate is a figure that a number of replicates yields, with its own sampling error.
type Estimate struct {
	Value      float64 `json:"value"`
	Low        float64 `json:"low"` // of the 95 % interval
	High       float64 `json:"high"`
	Replicates int     `json:"replicates"`

	rough bool // a bootstrap of so few replicates that it decides nothing
}

// fewest is how many replicates a bootstrap needs before an aim is judged by it.
const fewest = 10

// z95 is the standard normal quantile of a 95 % interval.
const z95 = 1.959963984540054

// wilson returns a rate of n trials with Wilson's interval (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927, 209–212).
func wilson(hits, n float64) (value, low, high float64) {
	p, z2 := hits/n, z95*z95
	mid := (p + z2/(2*n)) / (1 + z2/n)
	half := z95 / (1 + z2/n) * math.Sqrt(p*(1-p)/n+z2/(4*n*n))
	return p, max(0, mid-half), min(1, mid+half)
}

// poisson returns a rate of events over a time with the exact interval (F. Garwood, Biometrika 28, 1936, 437–442).
func poisson(events, time float64) (value, low, high float64) {
	quantile := func(p, shape float64) float64 {
		if shape == 0 {
			return 0
		}
		return distuv.Gamma{Alpha: shape, Beta: 1}.Quantile(p)
	}
	return events / time, quantile(0.025, events) / time, quantile(0.975, events+1) / time
}

// The figures that numbers of replicates are made into.
type statistic func(replicates [][]float64) float64

func meanOf(r [][]float64) float64 {
	all := slices.Concat(r...)
	sum := 0.0
	for _, x := range all {
		sum += x
	}
	return sum / float64(len(all))
}

// spreadOf is the standard deviation about the mean.
func spreadOf(r [][]float64) float64 {
	all, mean, sum := slices.Concat(r...), meanOf(r), 0.0
	for _, x := range all {
		sum += (x - mean) * (x - mean)
	}
	return math.Sqrt(sum / float64(len(all)-1))
}

// rootOf is the root of the mean square.
func rootOf(r [][]float64) float64 {
	all, sum := slices.Concat(r...), 0.0
	for _, x := range all {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(all)))
}

// quantileOf returns the figure below which a share of the sizes lies.
func quantileOf(share float64) statistic {
	return func(r [][]float64) float64 {
		all := slices.Concat(r...)
		for i := range all {
			all[i] = math.Abs(all[i])
		}
		slices.Sort(all)
		return all[min(len(all)-1, int(share*float64(len(all))))]
	}
}

// resamples is how often replicates are drawn anew, with replacement, to find how well a figure is known.
const resamples = 400

// resampled returns a figure with the interval of its bootstrap by whole replicates, whose numbers are not independent
// of one another (B. Efron, Ann. Stat. 7, 1979, 1–26). The draw is the same each time.
func resampled(r [][]float64, f statistic) (value, low, high float64) {
	rng := rand.New(rand.NewPCG(1, uint64(len(r))))
	out := make([]float64, resamples)
	again := make([][]float64, len(r))
	for i := range out {
		for j := range again {
			again[j] = r[rng.IntN(len(r))]
		}
		out[i] = f(again)
	}
	slices.Sort(out)
	return f(r), out[resamples/40], out[resamples-1-resamples/40]
}

// estimateOf makes a figure of the replicates that yielded anything; a rate of one answer each is Wilson's.
func estimateOf(r [][]float64, f statistic, rate bool) (Estimate, bool) {
	r = slices.DeleteFunc(slices.Clone(r), func(x []float64) bool { return len(x) == 0 })
	e := Estimate{Replicates: len(r)}
	numbers := len(slices.Concat(r...))
	switch {
	case numbers == 0 || !rate && len(r) < 2:
		return e, false
	case rate && (numbers == len(r) || meanOf(r) == 0 || meanOf(r) == 1): // where all agree, a bootstrap would be sure
		e.Value, e.Low, e.High = wilson(meanOf(r)*float64(len(r)), float64(len(r)))
	default:
		e.Value, e.Low, e.High = resampled(r, f)
		e.rough = len(r) < fewest
	}
	return e, true
}
