package improve

import (
	"ductward/internal/shop"
)

// Kind says what sort of change a proposal is. Names are added, never changed.
type Kind string

// The kinds of change.
const (
	HoseToPipe   Kind = "hose to pipe"
	StretchHose  Kind = "stretch hose"
	EasierElbow  Kind = "easier elbow"
	EasierWye    Kind = "easier wye"
	TaperedStep  Kind = "tapered step"
	BetterEntry  Kind = "better entry"
	LargerDrop   Kind = "larger drop"
	LargerTrunk  Kind = "larger trunk"
	CarryLarge   Kind = "carry large pipe"
	Seal         Kind = "seal"
	TightGate    Kind = "tight gate"
	FreeGate     Kind = "free gate"
	CleanFilter  Kind = "clean filter"
	LargerFilter Kind = "larger filter"
	FanInlet     Kind = "fan inlet"
	Discharge    Kind = "larger discharge"
)

// change is one thing that could be done to a drawing.
type change struct {
	kind    Kind
	place   string // changes of one place are alternatives: only one of them can be done
	text    string // what to do, as an order
	assumes []string
	draw    func(d *draft) // draws it, and writes down what it needs
}

// changes lists everything that may be worth trying on a drawing, in a fixed order.
func changes(c *shop.Collector, filter float64) []change {
	var out []change
	for _, idea := range []func(*shop.Collector) []change{
		stretchHoses, hosesToPipe, elbows, wyes, tapers, entries, carryLarge, largerDrops, largerTrunk, seals, gates, collectorParts,
	} {
		out = append(out, idea(c)...)
	}
	return append(out, filterChanges(c, filter)...)
}
