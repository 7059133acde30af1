package improve

import (
	"math"

	"ductward/internal/shop"
)

// spot is one machine in one set.
type spot struct{ set, machine int }

// aim is whose air is counted as gained, and where.
type aim struct {
	spots []spot // by set, then machine
	tight bool   // nobody is short: the spots are that of the tightest machine alone
}

// Counts tells that being short in a set is something that a change of the ducts could help.
func (s Set) Counts() bool { return s.Asked || !s.Beyond }

// aimAt finds the machines that are short in the sets that count; where nobody is, the one spot where a machine has least
// beyond its need. Without stated needs there is none.
func aimAt(c *shop.Collector, sets []Set, t trial) aim {
	var a aim
	least, tightest := math.Inf(1), spot{-1, -1}
	for i, s := range sets {
		for k, m := range c.Machines {
			if !s.Counts() || !t[i].open[k] || !(m.Needs > 0) {
				continue
			}
			share := t[i].flow[k] / m.Needs
			if share < 1 {
				a.spots = append(a.spots, spot{i, k})
			}
			if share < least {
				least, tightest = share, spot{i, k}
			}
		}
	}
	if len(a.spots) == 0 && tightest.set >= 0 {
		return aim{spots: []spot{tightest}, tight: true}
	}
	return a
}

// Needy is a machine that is short in at least one set that counts, or the tightest where nobody is.
type Needy struct {
	Machine string
	Needs   float64 // m³/s
	Sets    int     // in which it is short; 0: it has its need in all
	Open    int     // sets that count in which it is open
	Flow    float64 // m³/s, the least over those in which it counts
	Worst   Set     // in which that is
}

// needy tells who is aimed at, in the order of the shop file.
func (a aim) needy(c *shop.Collector, sets []Set, t trial) []Needy {
	var out []Needy
	for k, m := range c.Machines {
		n := Needy{Machine: m.Name, Needs: m.Needs, Flow: math.Inf(1)}
		counted := false
		for _, s := range a.spots {
			if s.machine != k {
				continue
			}
			counted = true
			if !a.tight {
				n.Sets++
			}
			if f := t[s.set].flow[k]; f < n.Flow {
				n.Flow, n.Worst = f, sets[s.set]
			}
		}
		for i, s := range sets {
			if s.Counts() && t[i].open[k] {
				n.Open++
			}
		}
		if counted {
			out = append(out, n)
		}
	}
	return out
}

// short counts the spots at which a machine with a stated need is short in sets that count.
func short(c *shop.Collector, sets []Set, t trial) int {
	n := 0
	for i, s := range sets {
		for k, m := range c.Machines {
			if s.Counts() && t[i].open[k] && t[i].flow[k] < m.Needs {
				n++
			}
		}
	}
	return n
}
