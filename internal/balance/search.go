package balance

import (
	"cmp"
	"slices"
)

// outcome is what one set came to.
type outcome struct {
	air   bool    // no open machine is short
	fed   bool    // and the ducts bear the suction, and just the machines of the set are open
	fine  bool    // and the dust is carried
	slack float64 // the least of what the machines have beyond their needs, over the needs
	miss  float64 // the worst of what is wrong, over its limit; 0 where nothing is
}

// search looks for fine sets among n ways.
type search struct {
	n      int
	clash  func(set, int) bool // the way cannot be in one set with these
	try    func(set) outcome   // solves a set
	prune  bool                // leave out sets with a subset that lacks air
	budget int                 // sets that may be tried

	order []set // in the order in which they were tried
	found map[set]outcome
	whole int  // all sets of up to so many ways have been looked at
	done  bool // all sets have
}

// climbShare is the part of the budget that is kept for larger sets where the budget does not reach for all.
const climbShare = 0.3

// run tries the sets by rising size.
func (s *search) run() {
	s.found = map[set]outcome{}
	level := []set{{}}
	s.take(set{})
	if s.prune && !s.found[set{}].air {
		s.done = true
		return
	}
	for len(level) > 0 {
		next, all := s.grow(level)
		if !all {
			s.climb(level)
			return
		}
		s.whole++
		level = next
	}
	s.whole = s.n
	s.done = true
}

// take tries a set that has not been tried.
func (s *search) take(t set) outcome {
	o, ok := s.found[t]
	if !ok {
		o = s.try(t)
		s.found[t] = o
		s.order = append(s.order, t)
	}
	return o
}

// grow tries every set that has one way more than those of a level, and returns the ones that may be grown again.
func (s *search) grow(level []set) (next []set, all bool) {
	limit := s.budget - int(climbShare*float64(s.budget))
	for _, t := range level {
		for i := s.last(t) + 1; i < s.n; i++ {
			u := t.with(i)
			if s.clash(t, i) || s.prune && !s.mayHaveAir(u) {
				continue
			}
			if len(s.order) >= limit {
				return nil, false
			}
			if o := s.take(u); o.air || !s.prune {
				next = append(next, u)
			}
		}
	}
	return next, true
}

// last is the highest way of a set, -1 for the empty one.
func (s *search) last(t set) int {
	m := t.members()
	if len(m) == 0 {
		return -1
	}
	return m[len(m)-1]
}

// mayHaveAir tells that no set with one way less lacks air.
func (s *search) mayHaveAir(t set) bool {
	for _, i := range t.members() {
		if !s.found[t.without(i)].air {
			return false
		}
	}
	return true
}

// climb looks for large sets where not all can be tried: from the sets of a level with the most air to spare, it adds
// the way that leaves the most to spare, again and again.
func (s *search) climb(level []set) {
	starts := slices.Clone(level)
	slices.SortStableFunc(starts, func(a, b set) int { return cmp.Compare(s.found[b].slack, s.found[a].slack) })
	for _, t := range starts {
		for len(s.order) < s.budget {
			best, found := set{}, false
			for i := 0; i < s.n && len(s.order) < s.budget; i++ {
				if t.has(i) || s.clash(t, i) {
					continue
				}
				u := t.with(i)
				if o := s.take(u); o.air && (!found || o.slack > s.found[best].slack) {
					best, found = u, true
				}
			}
			if !found {
				break
			}
			t = best
		}
	}
}
