package whichopen

// Move says what lies between a run and the one before it.
type Move int

// The moves.
const (
	Moved  Move = iota // somebody moved something
	Still              // nobody moved anything: the stretch was only cut
	Parted             // a rest, or nobody knows: what is usual is all that is known
)

// How likely it is that a set is followed by one that differs in none, one, two or more of its machines, over what is
// usual. A move seen in the readings that was none is rare, and two machines at once are a swap (common practice, no
// source).
var steps = [...]float64{0.05, 1, 0.35, 0.04}

// noneShare is the prior of the class "none of these", beside what the candidates leave out.
const noneShare = 0.01

// prior returns the probability of each candidate before its readings are seen, and of none of them. They add up to 1.
func (t *Tracker) prior(r *Run) (p []float64, none float64) {
	p = make([]float64, len(r.Sets))
	total := 0.0
	for i := range r.Sets {
		total += r.Sets[i].Usual
	}
	if r.Move == Still && len(t.last) > 0 {
		return t.same(r), t.none
	}
	from := t.last
	rest := t.none // of which nothing is known
	if r.Move == Parted {
		from, rest = nil, 1
	}
	for i := range r.Sets {
		p[i] = rest * r.Sets[i].Usual / total
	}
	for _, w := range from {
		t.spread(p, r, &w)
	}
	none = noneShare + (1-noneShare)*min(max(r.Missing, 0), 1)
	scale(p, 1-none)
	return p, none
}

// spread adds the probability of one set of the last run to those that may follow it.
func (t *Tracker) spread(p []float64, r *Run, w *weighed) {
	total := 0.0
	share := make([]float64, len(p))
	for i := range r.Sets {
		s := &r.Sets[i]
		share[i] = s.Usual * steps[min(differ(w.machines, s.Machines), len(steps)-1)]
		total += share[i]
	}
	for i := range p {
		p[i] += w.probability * share[i] / total
	}
}

// same returns the belief about the last run, for the candidates of this one.
func (t *Tracker) same(r *Run) []float64 {
	p := make([]float64, len(r.Sets))
	for _, w := range t.last {
		for i := range r.Sets {
			if r.Sets[i].Key == w.key {
				p[i] = w.probability
			}
		}
	}
	scale(p, 1-t.none)
	return p
}

// differ counts the machines that only one of two ascending lists has.
func differ(a, b []int) int {
	n := 0
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0] == b[0]:
			a, b = a[1:], b[1:]
		case a[0] < b[0]:
			a, n = a[1:], n+1
		default:
			b, n = b[1:], n+1
		}
	}
	return n + len(a) + len(b)
}

// scale makes the sum of p that much; p of zeros stays.
func scale(p []float64, to float64) {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	if sum == 0 {
		return
	}
	for i := range p {
		p[i] *= to / sum
	}
}
