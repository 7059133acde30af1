package steady

import (
	"math"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// blockSpan is the length over which single samples are averaged before anything else is done with them. It is several
// times the correlation time of turbulence, so that block means are nearly independent.
const blockSpan = 30 * time.Second

// correlationTime is the time over which turbulence in a duct is taken to be correlated until the blocks themselves say
// otherwise: 3 to 6 s is usual behind fittings (common practice, no source). Taken from the upper part: an error that is
// told too small costs more than one told too large.
const correlationTime = 5500 * time.Millisecond

// priorBlocks is how many blocks' worth of belief the correlation time carries against the scatter of the blocks.
const priorBlocks = 4

// block is the mean of one channel over up to blockSpan.
type block struct {
	mid   time.Duration // monotonic time of its middle
	span  time.Duration // that its samples cover
	mean  float64
	n     int
	of    float64 // samples that its mean is made of, as far as can be told
	share float64 // variance of its mean over that of single samples

	ss, dof, free float64 // its own part of those of its series
}

// series gathers one channel over a stretch.
type series struct {
	blocks []block
	// the block that is being filled
	first, last time.Duration
	sum, sumsq  float64
	shift       float64 // first value of the block: sums are taken about it, so that no digits are lost
	weight      float64 // Σ of the weights in the sums: samples, or rows that do not tell theirs
	within      float64 // Σ of squares within rows
	scale       float64 // variance of single samples over that of a row's mean
	n           int
	span        time.Duration
	// scatter of single samples about the means of their blocks
	ss   float64
	dof  float64
	free float64 // what ss is in units of the variance of single samples: less than dof, for their correlation
	deaf bool    // some rows are means that do not tell their scatter: turbulence cannot be heard through them
}

// add takes one reading. A reading with a span of blockSpan or more is a block of its own.
func (s *series) add(r *reading.Reading) {
	told := r.N > 1 && !math.IsNaN(r.SD)
	s.deaf = s.deaf || !told && r.Span > 2*time.Second
	if r.Span >= blockSpan {
		s.flush()
		n := float64(r.N)
		if r.N <= 1 {
			n = math.Ceil(r.Span.Seconds())
		}
		b := block{mid: r.Mono - r.Span/2, span: r.Span, mean: r.Value, n: max(r.N, 1), of: n, share: share(n, r.Span.Seconds()/n)}
		if told {
			b.ss, b.dof, b.free = r.SD*r.SD*(n-1), n-1, n*(1-b.share)
		}
		s.keep(b)
		return
	}
	if s.n > 0 && r.Mono-s.first >= blockSpan {
		s.flush()
	}
	if s.n == 0 {
		s.first, s.shift = r.Mono, r.Value
	}
	w := 1.0
	s.scale = 1
	switch {
	case r.Span > 0 && told:
		w = float64(r.N)
		s.within += r.SD * r.SD * (w - 1)
	case r.Span > 0:
		n := math.Ceil(r.Span.Seconds())
		s.scale = 1 / share(n, r.Span.Seconds()/n)
	}
	d := r.Value - s.shift
	s.sum += w * d
	s.sumsq += w * d * d
	s.weight += w
	s.n += max(r.N, 1)
	s.last = r.Mono
	s.span += r.Span
}

// flush closes the block that is being filled.
func (s *series) flush() {
	if s.n == 0 {
		return
	}
	mean := s.sum / s.weight
	b := block{mid: (s.first + s.last) / 2, span: max(s.last-s.first, s.span), mean: s.shift + mean, n: s.n, of: s.weight, share: 1}
	if s.weight > 1 {
		steps := s.weight
		if s.span == 0 {
			steps-- // single samples: the first stands at the beginning
		}
		b.share = share(s.weight, b.span.Seconds()/steps)
		b.ss, b.dof, b.free = max(s.sumsq-s.weight*mean*mean, 0)*s.scale+s.within, s.weight-1, s.weight*(1-b.share)
	}
	s.keep(b)
	s.sum, s.sumsq, s.weight, s.within, s.n, s.span = 0, 0, 0, 0, 0, 0
}

// keep takes in a block.
func (s *series) keep(b block) {
	s.blocks = append(s.blocks, b)
	s.ss += b.ss
	s.dof += b.dof
	s.free += b.free
}

// share returns the variance of the mean of n samples, dt seconds apart, over the variance of one, where their
// correlation falls by a = exp(-dt/τ) from one to the next:
//
//	(n·(1-a²) - 2a·(1-aⁿ)) / (n²·(1-a)²)
//
// which is the sum of a to the distance over all pairs of samples. It is 1 for samples at one moment and 1/n for samples
// far apart.
func share(n, dt float64) float64 {
	a := math.Exp(-dt / correlationTime.Seconds())
	if n <= 1 || a > 1-1e-6 {
		return 1
	}
	return (n*(1-a*a) - 2*a*(1-math.Pow(a, n))) / (n * n * (1 - a) * (1 - a))
}

// eddies is what is believed of the standard deviation of single samples of a channel before any are seen.
type eddies struct{ floor, share float64 } // Pa, and of the mean

// usualTurbulence is that behind fittings, half as much again as is usual: an error that is told too small costs more than
// one told too large (common practice, no source). Nothing is believed of other quantities.
func usualTurbulence(q shop.Quantity) eddies {
	switch q {
	case shop.FilterDrop, shop.SeparatorDrop:
		return eddies{1.2, 0.015}
	case shop.StaticPressure:
		return eddies{3, 0.006}
	case shop.VelocityPressure:
		return eddies{3, 0.10}
	}
	return eddies{}
}

// variance of single samples about a mean; 0: nothing is believed.
func (t eddies) variance(mean float64) float64 {
	sd := t.floor + t.share*math.Abs(mean)
	return sd * sd
}

// summary returns the robust mean of the stretch with its standard error. Rows that tell no scatter are judged by what is
// usual until they scatter enough themselves.
func (s *series) summary(channel string, usual eddies) (Summary, bool) {
	s.flush()
	if len(s.blocks) == 0 {
		return Summary{}, false
	}
	out := Summary{Channel: channel, SD: math.NaN(), ZeroAge: -1}
	if s.dof > 0 && !s.deaf {
		out.SD = math.Sqrt(s.ss / s.dof)
	}
	for _, b := range s.blocks {
		out.N += b.n
	}
	w := s.weights()
	mean, total := weightedMean(s.blocks, w)
	out.Mean = mean
	out.SE = s.standardError(mean, w, total, usual.variance(mean))
	out.Slope = slope(s.blocks, w)
	return out, true
}

// weights returns a weight a block: its share of time, less where it lies far from the others, and none where it lies
// where no turbulence reaches (Huber with 2 robust standard deviations, cut off at hopeless), so that neither one slam of
// a door nor one wild row moves the mean.
func (s *series) weights() []float64 {
	w := make([]float64, len(s.blocks))
	means := make([]float64, len(s.blocks))
	for i, b := range s.blocks {
		w[i] = max(b.span.Seconds(), 1)
		means[i] = b.mean
	}
	if len(s.blocks) < 5 {
		return w
	}
	centre := median(means)
	for i := range means {
		means[i] = math.Abs(means[i] - centre)
	}
	spread := 1.4826 * median(means)
	if spread == 0 {
		return w
	}
	for i, b := range s.blocks {
		switch z := math.Abs(b.mean-centre) / spread; {
		case z > hopeless:
			w[i] = 0
		case z > 2:
			w[i] *= 2 / z
		}
	}
	return w
}

// hopeless is how many robust standard deviations from the others' middle a block is not believed at all.
const hopeless = 8.0

// standardError blends what the correlation time predicts with how the blocks scatter. It is NaN for one block of which
// no scatter is known.
func (s *series) standardError(mean float64, w []float64, total, usual float64) float64 {
	var scatter, sumsq, shares, loss, seconds float64
	for i, b := range s.blocks {
		scatter += w[i] * (b.mean - mean) * (b.mean - mean)
		sumsq += w[i] * w[i]
		shares += w[i] * b.share
		loss += w[i] * w[i] / max(b.span.Seconds(), 1)
		seconds += max(b.span.Seconds(), 1)
	}
	whole := s.wholeShare() * loss * seconds / (total * total) // with what the weights lose
	free := total*total/sumsq - 1                              // effective number of blocks, less the one that the mean takes
	predicted, seen := math.NaN(), math.NaN()                  // variances of the mean
	switch {
	case s.free > 0:
		predicted = s.ss / s.free * whole
	case usual > 0:
		predicted = usual * whole
	}
	// Σw·(block - mean)² / Σw has the expectation σ²·(mean share of the blocks - share of the whole)
	if left := shares/total - whole; len(s.blocks) > 1 && left > 0 {
		seen = scatter / total * whole / left
	}
	switch {
	case math.IsNaN(seen):
		return math.Sqrt(predicted)
	case math.IsNaN(predicted):
		return math.Sqrt(seen)
	}
	return math.Sqrt((priorBlocks*predicted + free*seen) / (priorBlocks + free))
}

// wholeShare is the share of the plain mean of the whole stretch.
func (s *series) wholeShare() float64 {
	first, last := s.blocks[0], s.blocks[len(s.blocks)-1]
	if len(s.blocks) == 1 {
		return first.share
	}
	n := 0.0
	for _, b := range s.blocks {
		n += b.of
	}
	return share(n, (last.mid+last.span/2-first.mid+first.span/2).Seconds()/(n-1))
}

// weightedMean returns Σwx/Σw and Σw.
func weightedMean(blocks []block, w []float64) (mean, total float64) {
	for i, b := range blocks {
		mean += w[i] * b.mean
		total += w[i]
	}
	return mean / total, total
}

// slope returns the least-squares slope of the block means, per second; 0 for fewer than three blocks.
func slope(blocks []block, w []float64) float64 {
	if len(blocks) < 3 {
		return 0
	}
	var sw, st, sx float64
	for i, b := range blocks {
		sw += w[i]
		st += w[i] * b.mid.Seconds()
		sx += w[i] * b.mean
	}
	var stt, stx float64
	for i, b := range blocks {
		dt := b.mid.Seconds() - st/sw
		stt += w[i] * dt * dt
		stx += w[i] * dt * (b.mean - sx/sw)
	}
	if stt == 0 {
		return 0
	}
	return stx / stt
}

// median sorts a copy of x by insertion for short slices and returns the middle.
func median(x []float64) float64 {
	c := append([]float64(nil), x...)
	for i := 1; i < len(c); i++ {
		for j := i; j > 0 && c[j] < c[j-1]; j-- {
			c[j], c[j-1] = c[j-1], c[j]
		}
	}
	n := len(c)
	if n%2 == 1 {
		return c[n/2]
	}
	return (c[n/2-1] + c[n/2]) / 2
}
