package estimate

import (
	"slices"

	"ductward/internal/shop"
	"ductward/internal/steady"
)

// How many sets of gates are looked at.
const (
	mostSets   = 60
	pairsAmong = 5 // the best gates that are opened in pairs
)

// candidates lists the sets of gates that may be proposed: every gate shut, each machine alone, each branch with all of its
// machines, and what the shop ran lately. Refused tells how many of them the ducts are not known to bear.
func (e *Estimator) candidates() (sets []*gateSet, refused int) {
	all := []*gateSet{e.closedSet()}
	for _, m := range e.collector.Machines {
		all = append(all, e.aloneSet(m.Name))
	}
	for _, run := range e.cols.trunk {
		all = append(all, e.branchSet(run))
	}
	for _, u := range e.usages() {
		all = append(all, u.set)
	}
	return e.borne(all, nil)
}

// pairs lists pairs of the gates that tell most when they are open alone, but for those that have been looked at.
func (e *Estimator) pairs(ranked []ranked, but []*gateSet) (sets []*gateSet, refused int) {
	var best [][]string
	for i := range ranked {
		if ms := e.machinesOf(ranked[i].set); len(ms) == 1 && len(best) < pairsAmong {
			best = append(best, ms)
		}
	}
	var all []*gateSet
	for i := range best {
		for j := range i {
			all = append(all, e.machineSet(append(slices.Clone(best[j]), best[i]...)))
		}
	}
	return e.borne(all, but)
}

// borne keeps each set that the ducts bear once, but for some.
func (e *Estimator) borne(all, but []*gateSet) (sets []*gateSet, refused int) {
	seen := map[string]bool{}
	for _, g := range but {
		seen[g.key] = true
	}
	for _, g := range all {
		if g == nil || seen[g.key] || len(sets) == mostSets {
			continue
		}
		seen[g.key] = true
		if e.bears(g) {
			sets = append(sets, g)
		} else {
			refused++
		}
	}
	return sets, refused
}

// branchSet opens every machine behind a run; nil where they cannot be open together.
func (e *Estimator) branchSet(run string) *gateSet {
	var names []string
	for _, m := range e.collector.Machines {
		if slices.ContainsFunc(e.collector.PathOf(m.Name), func(r *shop.Run) bool { return r.Name == run }) {
			names = append(names, m.Name)
		}
	}
	return e.machineSet(names)
}

// machineSet opens what some machines need and nothing else; nil where they cannot be open together.
func (e *Estimator) machineSet(machines []string) *gateSet {
	setting, err := e.collector.SettingFor(machines)
	if err != nil {
		return nil
	}
	r := steady.Run{Kind: steady.Running}
	for _, g := range sortedKeys(setting.Open) {
		if setting.Open[g] {
			r.Open = append(r.Open, g)
		}
	}
	r.Ports = e.restingPorts(setting)
	g := e.newGateSet(&r)
	return &g
}

// machinesOf names the machines that a set of gates joins to the collector.
func (e *Estimator) machinesOf(g *gateSet) []string {
	v, err := e.nextView(g)
	if err != nil {
		return nil
	}
	var out []string
	for _, col := range v.machines {
		out = append(out, e.cols.machines[col-e.cols.block0])
	}
	return out
}
