package steady

import (
	"math"
	"slices"
	"time"
)

// What makes a step in the pressures of a stretch in which somebody may move a gate without being seen.
const (
	// stepEvidence is the sum over the pressures of the squared step over its variance: of steady air less than one in
	// some thousand stretches comes near it, and a gate that matters is a hundred times beyond.
	stepEvidence = 30.0
	// stepLeast is how large a step must be, relative, in one pressure at least: less is no gate, but the fan's or the
	// weather's.
	stepLeast = 0.01
	// slowWander is how far a pressure wanders within a stretch by itself, relative: the fan's speed does, by 0.2 %
	// (common practice, no source), and pressure goes with its square.
	slowWander = 0.004
)

// parts ends a stretch in which some gate's position is not known, or no gate is. It is cut where the pressures step, and what lies
// about a step is left out of both sides: the block in which something moved, and the next, in which the air settles.
func (f *Folder) parts(out []Run, mono time.Duration) []Run {
	cuts := f.cuts()
	if len(cuts) == 0 {
		return f.whole(out, mono)
	}
	hours, left := f.fanHours, f.begun // handed out up to there
	edges := append(append([]time.Duration{f.begun}, cuts...), mono)
	for k := range len(edges) - 1 {
		p := piece{from: edges[k], to: edges[k+1], first: k == 0, last: k == len(cuts)}
		p.hours = hours * shareOf(p.to-left, mono-f.begun)
		if run, ok := f.pieceRun(p, mono); ok {
			out, left = append(out, run), p.to
		}
	}
	f.fanHours = hours * shareOf(mono-left, mono-f.begun)
	return out
}

// shareOf is a part over a whole, 0 of nothing.
func shareOf(part, whole time.Duration) float64 {
	if whole <= 0 {
		return 0
	}
	return float64(part) / float64(whole)
}

// piece is what lies between two steps of a stretch, or between a step and the stretch's end.
type piece struct {
	from, to    time.Duration
	first, last bool
	hours       float64 // of the fan
}

// pieceRun makes the run of a piece, if enough of it is left.
func (f *Folder) pieceRun(p piece, mono time.Duration) (Run, bool) {
	c := *f
	c.series = make([]series, len(f.series))
	begun, ended := p.to, p.from
	for i := range f.series {
		c.series[i] = f.series[i].inside(p)
		for _, b := range c.series[i].blocks {
			begun, ended = min(begun, b.mid-b.span/2), max(ended, b.mid+b.span/2)
		}
	}
	if ended <= begun {
		return Run{}, false
	}
	if p.first {
		begun = f.begun
	}
	if p.last {
		ended = mono
	}
	c.begun, c.fanHours = begun, p.hours
	if !f.lastTime.IsZero() {
		c.lastTime = f.lastTime.Add(ended - mono)
	}
	run := c.summarise(ended)
	return run, len(run.Channels) > 0
}

// inside returns the series of a piece, less the blocks next to its steps.
func (s *series) inside(p piece) series {
	var blocks []block
	for _, b := range s.blocks {
		if b.mid > p.from && b.mid <= p.to {
			blocks = append(blocks, b)
		}
	}
	if !p.first && len(blocks) > 0 {
		blocks = blocks[1:]
	}
	if n := len(blocks); !p.last && n > 0 {
		blocks = blocks[:n-1]
	}
	out := series{deaf: s.deaf}
	for _, b := range blocks {
		out.keep(b)
	}
	return out
}

// cuts finds the moments at which the pressures of a stretch step, in order. The clearest comes first and parts the
// stretch; then each side is looked through (binary segmentation: Scott and Knott 1974, from memory).
func (f *Folder) cuts() []time.Duration {
	var seen []track
	for i, ch := range f.order {
		f.series[i].flush()
		if f.zeroed[ch] && len(f.series[i].blocks) > 1 {
			seen = append(seen, newTrack(f.series[i].blocks, f.usual[i]))
		}
	}
	if len(seen) == 0 {
		return nil
	}
	longest := seen[0].blocks
	for _, t := range seen {
		if len(t.blocks) > len(longest) {
			longest = t.blocks
		}
	}
	var at []time.Duration
	for _, b := range longest {
		at = append(at, b.mid+b.span/2)
	}
	var out []time.Duration
	cutInto(seen, at, math.MinInt64, math.MaxInt64, &out)
	slices.Sort(out)
	return out
}

// cutInto looks for the clearest step between two moments.
func cutInto(seen []track, at []time.Duration, from, to time.Duration, out *[]time.Duration) {
	best, where := stepEvidence, time.Duration(0)
	for _, a := range at {
		if a <= from || a >= to {
			continue
		}
		if e := step(seen, from, a, to); e > best {
			best, where = e, a
		}
	}
	if best == stepEvidence {
		return
	}
	*out = append(*out, where)
	cutInto(seen, at, from, where, out)
	cutInto(seen, at, where, to, out)
}

// step returns how clearly the pressures of a part differ before and after a moment.
func step(seen []track, from, at, to time.Duration) float64 {
	sum, large := 0.0, false
	for i := range seen {
		t := &seen[i]
		before, n := t.mean(from, at)
		after, m := t.mean(at, to)
		if n == 0 || m == 0 {
			continue
		}
		d, size := after-before, max(math.Abs(before), math.Abs(after))
		sum += d * d / (t.variance*(1/n+1/m) + slowWander*slowWander*size*size)
		large = large || math.Abs(d) > stepLeast*size
	}
	if !large {
		return 0
	}
	return sum
}

// track is one pressure over a stretch.
type track struct {
	blocks   []block
	variance float64   // of a block's mean about the air's
	sums     []float64 // of the means of the blocks before each
}

// newTrack reads how far the blocks scatter off their differences from one to the next, of which most hold no step.
func newTrack(blocks []block, usual eddies) track {
	t := track{blocks: blocks, sums: make([]float64, len(blocks)+1)}
	share := 0.0
	var moves []float64
	for i, b := range blocks {
		t.sums[i+1] = t.sums[i] + b.mean
		share += b.share / float64(len(blocks))
		if i > 0 {
			moves = append(moves, math.Abs(b.mean-blocks[i-1].mean))
		}
	}
	t.variance = usual.variance(t.sums[len(blocks)]/float64(len(blocks))) * share
	if len(moves) >= 5 {
		sd := 1.4826 * median(moves) / math.Sqrt2
		t.variance = max(t.variance, sd*sd)
	}
	return t
}

// mean returns the mean of the blocks whose middle lies after one moment and not after another, and how many they are.
func (t *track) mean(from, to time.Duration) (mean, n float64) {
	after := func(b block, m time.Duration) int {
		if b.mid > m {
			return 1
		}
		return -1
	}
	i, _ := slices.BinarySearchFunc(t.blocks, from, after)
	j, _ := slices.BinarySearchFunc(t.blocks, to, after)
	if j <= i {
		return 0, 0
	}
	n = float64(j - i)
	return (t.sums[j] - t.sums[i]) / n, n
}
