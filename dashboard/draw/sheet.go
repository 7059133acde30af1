package draw

import (
	"html/template"
	"math"

	"ductward/internal/estimate"
	"ductward/internal/shop"
)

// Sheet is the second picture: the ducts of one collector with the figures of every run, to be read at a desk or on
// paper. Each machine, stub and cut end has a row of its own, with the runs of its drop one after another; the trunk
// comes down on the right of what joins it, its figures on its right, and leads to the collector at the foot. A branch
// with joints of its own is a trunk of its own, further left. So no two texts ever share a place.
type Sheet struct {
	Collector *shop.Collector
	Now       estimate.Now
	Plant     Plant
	Leaks     []SheetLeak
	Heading   []string // words over the key; the first is the title
	Notes     []string // words under the key
	Stale     bool     // what is known is old: everything is hatched
	Alone     bool     // a file of its own, which brings its colours along
	ID        string   // makes the picture's inner names unique on its page
	Title     string   // read out in place of the picture
	Figures   Figures
}

// Plant is what the collector does, in m³/s and Pa; NaN: not known, and then not said.
type Plant struct {
	Inlet     float64 // gauge static pressure at its inlet
	Separator float64 // loss
	Filter    float64 // dirty minus clean
	Rise      float64 // total pressure of the fan
}

// UnknownPlant is a plant of which nothing is known.
func UnknownPlant() Plant { return Plant{math.NaN(), math.NaN(), math.NaN(), math.NaN()} }

// SheetLeak is a leak at one part of the model: "run:NAME", "seat:GATE", "drop:GATE" or "open-side:MACHINE".
type SheetLeak struct {
	Part  string
	Words string // "leak 20 m³/h"
}

// Figures writes numbers in the digits that they deserve, each with its unit. Nil: whole m³/h, tenths of m/s, whole Pa,
// whole mm.
type Figures struct {
	Flow, Need, Velocity, Pressure func(float64) string // Need is a flow as the shop file has it
	Transport                      func(float64) string // a velocity as the shop file has it
	Diameter                       func(float64) string // without its unit, which the key tells
	DiameterUnit                   string               // "": mm
}

// Sizes of the sheet, in units of which one is a CSS pixel.
const (
	sheetTrunk   = 34.0 // width of the largest flow, but for
	widestTrunk  = 46.0 // where that would make a drop narrower than
	sheetDrop    = 9.0
	sheetName    = 13.0 // letters of names
	sheetFigure  = 12.0 // letters of figures
	sheetLine    = 16.0 // from one line of text to the next
	sheetGap     = 10.0 // between two rows
	sheetMargin  = 20.0
	cellGap      = 26.0 // between the texts of two runs in a row
	slant        = 13.0 // how far the branch of a wye runs along the trunk while it enters
	longestName  = 30   // letters; the rest is told under the key
	shortestCell = 60.0
)

// SVG draws the sheet.
func (s *Sheet) SVG() template.HTML { return template.HTML(s.lay().finish()) } // every text in it has been escaped

// lay gives everything its place.
func (s *Sheet) lay() *sheet {
	p := &Picture{Collector: s.Collector, Now: s.Now, ID: s.ID}
	root := grow(s.Collector)
	p.measure(root)
	k := &sheet{Sheet: s, p: p, scale: s.scale(p, root), root: root}
	k.cuts = ringCuts(root)
	k.widths(root)
	b := newBough(root)
	k.columns(b)
	k.across(b)
	key := k.key()
	k.outline(b, &key)
	k.bough(b)
	k.collector(b)
	k.setKey(key)
	return k
}

// scale is the width of 1 m³/s: one for the sheet, so that every drop in use is seen as a channel where that is possible.
func (s *Sheet) scale(p *Picture, root *limb) float64 {
	now, least := math.Max(root.need, 1e-3), math.Inf(1)
	if known(root.flow) {
		now = math.Max(now, root.flow)
	}
	for _, m := range s.Now.Machines {
		if m.Open && m.Needs > 0 {
			now, least = math.Max(now, m.Needs), math.Min(least, m.Needs)
		}
	}
	return math.Min(widestTrunk/now, math.Max(sheetTrunk/p.largest(root), sheetDrop/least))
}
