package estimate

import (
	"slices"

	"ductward/internal/steady"
)

// telling is what is told of the gates, and how far it is believed.
type telling struct {
	Open    map[string]bool    // gates that are told open: whether a run with them has read as told since
	Doubted map[string]bool    // of them those that were found shut
	Shut    map[string]float64 // of the others, how probably each was shut all the same in the last run
}

func newTelling() telling { return telling{map[string]bool{}, map[string]bool{}, map[string]float64{}} }

// hear takes in what a run is told with, and returns the gates that are doubted no longer: they are told shut, or there is no baseline
// by which anything could tell how they stand. Before there is one nothing tells whether a gate was open when it was last told to be,
// and it is taken to have been.
func (t *telling) hear(r *steady.Run, baseline bool) (settled []string) {
	for _, g := range sortedKeys(t.Open) {
		told := slices.Contains(r.Open, g) || slices.Contains(r.Unknown, g)
		if t.Doubted[g] && !(told && baseline) {
			delete(t.Doubted, g)
			settled = append(settled, g)
		}
		if !told {
			delete(t.Open, g)
			delete(t.Shut, g)
		}
	}
	for _, g := range r.Open {
		if _, known := t.Open[g]; !known {
			t.Open[g] = !baseline
		}
	}
	return settled
}

// believed returns a run as it is told, less what is doubted: of such a gate it is not known how it stands.
func (t *telling) believed(r steady.Run) steady.Run {
	doubted := func(g string) bool { return t.Doubted[g] }
	if r.Kind == steady.Zero || !slices.ContainsFunc(r.Open, doubted) || r.Kind == steady.Unknown && len(r.Unknown) == 0 {
		return r
	}
	r.Unknown = slices.Clone(r.Unknown)
	for _, g := range r.Open {
		if t.Doubted[g] {
			r.Unknown = append(r.Unknown, g)
		}
	}
	slices.Sort(r.Unknown)
	r.Open = slices.DeleteFunc(slices.Clone(r.Open), doubted)
	r.Kind = steady.Unknown
	return r
}

// suspect tells whether one of some gates is rather probably shut though it is told open.
func (t *telling) suspect(open []string) bool {
	return slices.ContainsFunc(open, func(g string) bool { return t.Shut[g] >= suspectShut })
}

// asTold takes in that a run had the gates open that it is told with, and returns which of them were doubted.
func (t *telling) asTold(open []string) (settled []string) {
	for _, g := range open {
		if _, told := t.Open[g]; told {
			t.Open[g] = true
			delete(t.Shut, g)
		}
		if t.Doubted[g] {
			delete(t.Doubted, g)
			settled = append(settled, g)
		}
	}
	return settled
}
