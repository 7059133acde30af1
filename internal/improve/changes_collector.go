package improve

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// moreMedia is the area of a larger filter over that of the one there is, where larger ones are tried.
const moreMedia = 1.5

// loadedFrom is the resistance over the clean filter's from which a cleaning is proposed.
const loadedFrom = 1.02

// filterChanges cleans a filter that is told to be loaded, and tries a larger one.
func filterChanges(c *shop.Collector, resistance float64) []change {
	var out []change
	if resistance > loadedFrom {
		out = append(out, change{kind: CleanFilter, place: "filter cleaning", text: "clean the filter",
			assumes: []string{"a cleaning takes it back to its clean drop"}, draw: func(d *draft) { d.filter = 1 }})
	}
	if !(c.Filter.CleanDrop > c.Filter.HousingLoss) {
		return out
	}
	text, area := "put in a filter of half as much area again", c.Filter.Area
	if area > 0 {
		text = fmt.Sprintf("put in %.3g m² of filter instead of %.3g m²", area*moreMedia, area)
	}
	return append(out, change{
		kind: LargerFilter, place: "filter area", text: text,
		assumes: []string{"the same media, whose resistance goes with the speed of the air through it", "the housing takes it and loses what it lost"},
		draw: func(d *draft) {
			f := &d.Filter
			f.CleanDrop = f.HousingLoss + (f.CleanDrop-f.HousingLoss)/moreMedia
			if area > 0 {
				f.Area = area * moreMedia
				d.bought.add(media, 0, f.Area)
			} else {
				d.bought.add(media, 0, math.NaN())
			}
		},
	})
}

// collectorParts betters what the air meets at the fan: a poor inlet, and a narrow discharge.
func collectorParts(c *shop.Collector) []change {
	var out []change
	if in := c.Fan.Inlet; in != nil {
		out = append(out, change{
			kind: FanInlet, place: "fan inlet", text: "lead the duct straight into the fan, with several diameters of straight pipe before it",
			assumes: []string{"there is room for it, and the elbow finds a place further up where it costs no more than it is drawn with"},
			draw: func(d *draft) {
				d.Fan.Inlet = nil
				if in.Diameter > 0 {
					d.bought.add(pipe, in.Diameter, straightInlet*in.Diameter)
				}
			},
		})
	}
	if c.Discharge == nil {
		return out
	}
	for _, size := range larger(c.Discharge.Diameter, sizes[len(sizes)-1], 1) {
		out = append(out, change{
			kind: Discharge, place: "discharge", text: fmt.Sprintf("put in %s instead of %s behind the fan", mm(size), mm(c.Discharge.Diameter)),
			assumes: []string{"what stands in the discharge (a silencer, a hood) becomes as much larger"},
			draw: func(d *draft) {
				d.Discharge.Diameter = size
				d.bought.add(pipe, size, d.Discharge.Length)
			},
		})
	}
	return out
}

// straightInlet is the straight pipe before a fan, in diameters, behind which its inlet is as good as a free one: three
// to six, more for a faster inlet (from memory: AMCA 201).
const straightInlet = 5.0
