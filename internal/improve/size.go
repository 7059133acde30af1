package improve

import (
	"fmt"
	"math"
)

// sizes are the diameters (m) in which round duct is sold: EN 1506, its recommended and its additional ones from 80 mm
// on (from memory), and those between them that woodworking duct comes in as well (112, 120, 140, 180, 224 and 280 mm;
// common practice, no source).
var sizes = []float64{
	0.08, 0.1, 0.112, 0.12, 0.125, 0.14, 0.15, 0.16, 0.18, 0.2, 0.224, 0.25, 0.28, 0.3, 0.315, 0.355, 0.4, 0.45, 0.5,
	0.56, 0.63, 0.71, 0.8, 0.9, 1,
}

// A size is worth a proposal when it is wider than what is there by so much; two sizes that differ by less are one.
const (
	worthwhile = 0.06
	sameSize   = 0.01
)

// larger lists the next so many sizes above a diameter that are worth it, and not above the most.
func larger(diameter, most float64, count int) []float64 {
	var out []float64
	for _, s := range sizes {
		if s >= diameter*(1+worthwhile) && s <= most*(1+sameSize) && len(out) < count {
			out = append(out, s)
		}
	}
	return out
}

// alike tells that two diameters are one size.
func alike(a, b float64) bool { return math.Abs(a-b) <= sameSize*math.Max(a, b) }

// wider tells that a is a larger size than b.
func wider(a, b float64) bool { return a > b && !alike(a, b) }

// mm writes a diameter or a radius.
func mm(d float64) string { return fmt.Sprintf("%.4g mm", d*1000) }

// metres writes a length.
func metres(l float64) string { return fmt.Sprintf("%.2g m", l) }

// degrees writes an angle (rad).
func degrees(a float64) string { return fmt.Sprintf("%.3g°", a*180/math.Pi) }
