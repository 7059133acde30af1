package steady

import (
	"math"
	"time"

	"ductward/internal/reading"
)

// blockSpan is the length over which single samples are averaged before anything else is done with them. It is several
// times the correlation time of turbulence, so that block means are nearly independent.
const blockSpan = 30 * time.Second

// correlationTime is the time over which turbulence in a duct is taken to be correlated until the blocks themselves say
// otherwise: 3 to 6 s is usual behind fittings (common practice, no source).
const correlationTime = 5 * time.Second

// priorBlocks is how many blocks' worth of belief the correlation time carries against the scatter of the blocks.
const priorBlocks = 4

// block is the mean of one channel over up to blockSpan.
type block struct {
	mid  time.Duration // monotonic time of its middle
	span time.Duration // that its samples cover
	mean float64
	n    int
}

// series gathers one channel over a stretch.
type series struct {
	blocks []block
	// the block that is being filled
	first, last time.Duration
	sum, sumsq  float64
	shift       float64 // first value of the block: sums are taken about it, so that no digits are lost
	n           int
	span        time.Duration
	// within-block scatter of single samples
	ss  float64
	dof float64
}

// add takes one reading. A reading with a span of blockSpan or more is a block of its own.
func (s *series) add(r *reading.Reading) {
	if r.Span >= blockSpan {
		s.flush()
		n := max(r.N, 1)
		s.blocks = append(s.blocks, block{mid: r.Mono - r.Span/2, span: r.Span, mean: r.Value, n: n})
		if !math.IsNaN(r.SD) && r.N > 1 {
			s.ss += r.SD * r.SD * float64(r.N-1)
			s.dof += float64(r.N - 1)
		}
		return
	}
	if s.n > 0 && r.Mono-s.first >= blockSpan {
		s.flush()
	}
	if s.n == 0 {
		s.first, s.shift = r.Mono, r.Value
	}
	d := r.Value - s.shift
	s.sum += d
	s.sumsq += d * d
	s.n++
	s.last = r.Mono
	s.span += r.Span
}

// flush closes the block that is being filled.
func (s *series) flush() {
	if s.n == 0 {
		return
	}
	n := float64(s.n)
	mean := s.sum / n
	if s.n > 1 {
		s.ss += max(s.sumsq-n*mean*mean, 0)
		s.dof += n - 1
	}
	span := max(s.last-s.first, s.span)
	s.blocks = append(s.blocks, block{mid: (s.first + s.last) / 2, span: span, mean: s.shift + mean, n: s.n})
	s.sum, s.sumsq, s.n, s.span = 0, 0, 0, 0
}

// summary returns the robust mean of the stretch with its standard error.
func (s *series) summary(channel string) (Summary, bool) {
	s.flush()
	if len(s.blocks) == 0 {
		return Summary{}, false
	}
	out := Summary{Channel: channel, SD: math.NaN(), ZeroAge: -1}
	if s.dof > 0 {
		out.SD = math.Sqrt(s.ss / s.dof)
	}
	for _, b := range s.blocks {
		out.N += b.n
	}
	w := s.weights()
	mean, total := weightedMean(s.blocks, w)
	out.Mean = mean
	out.SE = s.standardError(mean, w, total, out.SD)
	out.Slope = slope(s.blocks, w)
	return out, true
}

// weights returns a weight a block: its share of time, less where it lies far from the others (Huber with 2 robust
// standard deviations), so that one slam of a door does not move the mean.
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
		if z := math.Abs(b.mean-centre) / spread; z > 2 {
			w[i] *= 2 / z
		}
	}
	return w
}

// standardError blends what the correlation time predicts with how the blocks scatter.
func (s *series) standardError(mean float64, w []float64, total, sd float64) float64 {
	var seconds, scatter, sumsq float64
	for i, b := range s.blocks {
		seconds += max(b.span.Seconds(), 1)
		scatter += w[i] * (b.mean - mean) * (b.mean - mean)
		sumsq += w[i] * w[i]
	}
	blocks := total * total / sumsq // effective number of blocks
	meanSpan := seconds / float64(len(s.blocks))
	predicted := math.NaN()
	if !math.IsNaN(sd) {
		// the mean of a process with correlation time τ over T has variance σ²·2τ/T while T ≫ τ
		predicted = sd * sd * min(1, 2*correlationTime.Seconds()/meanSpan)
	}
	free := blocks - 1
	seen := scatter / total * blocks / max(free, 1)
	switch {
	case math.IsNaN(predicted) && free < 1:
		return math.NaN() // one block and no scatter known
	case math.IsNaN(predicted):
		predicted = seen
	case free < 1:
		seen = predicted
	}
	variance := (priorBlocks*predicted + max(free, 0)*seen) / (priorBlocks + max(free, 0))
	return math.Sqrt(variance / blocks)
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
