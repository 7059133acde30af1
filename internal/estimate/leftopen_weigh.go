package estimate

import (
	"math"
	"slices"

	"ductward/internal/whichopen"
)

// weighTold weighs a run: as told, and, where machines are given, with one of them open besides and with whatever else may
// explain it. It returns the filter's log resistance after the run too.
func (e *Estimator) weighTold(o *observation, filter Value, machines []int) (whichopen.Belief, Value) {
	density := o.known.densityError(1)
	t := whichopen.New([]float64{filter.V, 0, 0, 0}, []float64{filter.SE * filter.SE, unseenLeak * unseenLeak, unseenFanSpeed * unseenFanSpeed, density * density})
	in := &whichopen.Run{Move: whichopen.Parted, Jumps: []whichopen.Jump{
		{Chance: cleanedAtRest, Shift: part(sharedFilter, cleanedShift), Var: part(sharedFilter, cleanedSpread*cleanedSpread)}}}
	e.readLogs(in, o)
	hoods := make([]float64, len(e.cols.machines))
	for m := range hoods {
		hoods[m] = e.hoodSD(m)
	}
	add := func(key string, x *expectation, usual float64, also func(*expectation, *whichopen.Set)) {
		if !x.solved {
			return
		}
		s := e.candidate(x, o.air, hoods)
		s.Key, s.Usual = key, usual
		if also != nil {
			also(x, &s)
		}
		in.Sets = append(in.Sets, s)
	}
	weigh := func() (whichopen.Belief, Value) {
		b := t.Take(in)
		return b, Value{t.Mean[sharedFilter], math.Sqrt(t.Cov[sharedFilter][sharedFilter])}
	}
	told := e.expect(o.set, filter.V, o.air)
	add("told", told, 1, nil)
	if machines == nil {
		return weigh()
	}
	add("fan", told, slowFanChance, func(x *expectation, s *whichopen.Set) {
		widen(s, column(x.rows, sharedFan), slowFanSpread)
	})
	for k := range told.machines {
		add("hood:"+e.cols.machines[told.machines[k]], told, hoodChance/float64(len(told.machines)), func(x *expectation, s *whichopen.Set) {
			widen(s, column(x.blocks, k), hoodSpread)
		})
	}
	places := e.leakPlaces()
	for _, zone := range places {
		for _, q := range leakSizes {
			add("leak", e.expectLeak(o.set, filter.V, o.air, q, zone), largeLeak*leakSizes[0]/q/float64(len(places)), func(x *expectation, s *whichopen.Set) {
				widen(s, column(x.rows, sharedLeak), leakSizeSpread*q)
			})
		}
	}
	as, again := e.withUnknown(o.run), e.openAgain()
	has := map[string]bool{o.set.key: true}
	for _, m := range machines {
		if set, ok := e.settingWith(&as, []int{m}); ok && !has[set.key] {
			has[set.key] = true
			add("open:"+e.cols.machines[m], e.expect(&set, filter.V, o.air), leftOpenChance/float64(len(machines))+again[m], nil)
		}
	}
	return weigh()
}

// column is one column of a matrix of rows.
func column(rows [][]float64, j int) []float64 {
	out := make([]float64, len(rows))
	for i := range rows {
		out[i] = rows[i][j]
	}
	return out
}

// widen adds to a candidate what something may be off by of which each channel has a share.
func widen(s *whichopen.Set, by []float64, sd float64) {
	for c := range s.Cov {
		for d := range s.Cov[c] {
			s.Cov[c][d] += sd * sd * by[c] * by[d]
		}
	}
}

// leakSpots is in how many places of the trunk a large leak is tried.
const leakSpots = 4

// leakPlaces picks runs of the trunk from one end of the list to the other, that of commonLeak among them.
func (e *Estimator) leakPlaces() []int {
	common := e.cols.commonLeak()
	if common < 0 {
		return nil
	}
	var all []int
	for j, z := range e.cols.zones {
		if partKind(z) == "run" && !e.cols.gated[j] && !e.cols.isRepeat(j) && j != common {
			all = append(all, j)
		}
	}
	out := []int{common}
	for n := range min(leakSpots-1, len(all)) {
		out = append(out, all[n*(len(all)-1)/max(leakSpots-2, 1)])
	}
	return slices.Compact(out)
}
