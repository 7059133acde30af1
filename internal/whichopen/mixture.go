package whichopen

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// mixture weighs every candidate under everything that may have happened, and none of them.
type mixture struct {
	parts []part
	log   []float64 // of the weights
}

// part is one of them.
type part struct {
	set int // the number of the candidate; that of candidates for none of them
	way int
}

// negligible is below which share of the whole a part does not move the shared state.
const negligible = 1e-9

// weigh returns the probability of each candidate after the run, that of none of them behind them, and gives the tracker
// the mean and the covariance of the mixture.
func (t *Tracker) weigh(r *Run, have []int, prior []float64, none float64) []float64 {
	ways := t.ways(r)
	var m mixture
	for i := range r.Sets {
		if prior[i] == 0 {
			continue
		}
		for j := range ways {
			o := innovate(&r.Sets[i], &ways[j], r, have)
			m.add(part{i, j}, prior[i]*ways[j].chance, o.logDensity())
		}
	}
	n := len(r.Sets)
	m.add(part{n, 0}, none, -float64(len(have))*math.Log(outlierWidth))
	w := m.weights()
	p := make([]float64, n+1)
	if len(w) == 0 {
		p[n] = 1
		return p
	}
	sum := newMoments(len(t.Mean))
	for i, x := range m.parts {
		p[x.set] += w[i]
		if w[i] < negligible {
			continue
		}
		if x.set == n { // none of them teaches nothing
			sum.add(w[i], ways[0].mean, ways[0].cov)
			continue
		}
		o := innovate(&r.Sets[x.set], &ways[x.way], r, have)
		mean, cov := o.learn(&ways[x.way])
		sum.add(w[i], mean, cov)
	}
	t.Mean, t.Cov = sum.moments()
	return p
}

// add adds a part with its prior weight and the log density of the readings.
func (m *mixture) add(x part, prior, logDensity float64) {
	if !(prior > 0) || math.IsInf(logDensity, 0) || math.IsNaN(logDensity) {
		return
	}
	m.parts, m.log = append(m.parts, x), append(m.log, math.Log(prior)+logDensity)
}

// weights returns the parts' shares of the whole.
func (m *mixture) weights() []float64 {
	top := math.Inf(-1)
	for _, l := range m.log {
		top = max(top, l)
	}
	w := make([]float64, len(m.log))
	for i, l := range m.log {
		w[i] = math.Exp(l - top)
	}
	scale(w, 1)
	return w
}

// moments sums up normal distributions.
type moments struct {
	weight float64
	means  [][]float64
	shares []float64
	cov    [][]float64
}

func newMoments(n int) *moments { return &moments{cov: square(n)} }

func (m *moments) add(w float64, mean []float64, cov mat.Matrix) {
	m.weight += w
	m.means, m.shares = append(m.means, mean), append(m.shares, w)
	for a := range m.cov {
		for b := range m.cov {
			m.cov[a][b] += w * cov.At(a, b)
		}
	}
}

// moments returns the mean and the covariance of the whole.
func (m *moments) moments() (mean []float64, cov [][]float64) {
	mean, cov = make([]float64, len(m.cov)), square(len(m.cov))
	for i, x := range m.means {
		for a := range x {
			mean[a] += m.shares[i] * x[a] / m.weight
		}
	}
	for a := range cov {
		for b := range cov {
			cov[a][b] = m.cov[a][b] / m.weight
			for i, x := range m.means {
				cov[a][b] += m.shares[i] * (x[a] - mean[a]) * (x[b] - mean[b]) / m.weight
			}
		}
	}
	return mean, cov
}
