package improve

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/shop"
)

const (
	easyRadius    = 1.5  // diameters, of a long-radius elbow: common practice, no source
	pressedUpTo   = 0.25 // m: pressed elbows are sold up to about there, gored ones beyond; common practice, no source
	between       = 3.0  // diameters of straight pipe between two elbows that stand for one
	leastTurn     = 0.5  // rad: a smaller turn is not worth a change
	halvedFrom    = 1.0  // rad: a smaller turn is not made of two
	goredPieces   = 5    // of a 90° elbow that is easy
	poorPieces    = 3    // of a larger turn: as few are hard
	poorPieceTurn = 1.0  // rad
)

// elbows replaces hard elbows: by two of half the turn with a piece between, and by one of long radius. Equal ones in one
// run are done together.
func elbows(c *shop.Collector) []change {
	var out []change
	for _, r := range c.Network.Runs {
		var done []shop.Fitting
		for _, f := range r.Fittings {
			if !hard(f) || slices.ContainsFunc(done, func(g shop.Fitting) bool { return equalElbows(f, g) }) {
				continue
			}
			done = append(done, f)
			out = append(out, elbowChanges(r, f)...)
		}
	}
	return out
}

func elbowChanges(r *shop.Run, f shop.Fitting) []change {
	count := 0
	for _, g := range r.Fittings {
		if equalElbows(f, g) {
			count++
		}
	}
	which, one, two := "the "+elbowWord(f, ""), "one", fmt.Sprintf("two of %s", degrees(f.Angle/2))
	if count > 1 {
		which, one, two = fmt.Sprintf("the %d %s", count, elbowWord(f, "s")), "ones", two+" each"
	}
	place := fmt.Sprintf("elbow %s %s", r.Name, elbowWord(f, ""))
	out := []change{swapElbows(r.Name, f, change{
		kind: EasierElbow, place: place, assumes: []string{"there is room for the longer turn"},
		text: fmt.Sprintf("replace %s in %s by %s of long radius (%.1f D)", which, r.Name, one, easyRadius),
	}, func(f shop.Fitting, d float64) []shop.Fitting { return []shop.Fitting{easyElbow(f, d, f.Angle)} })}
	if f.Angle < halvedFrom {
		return out
	}
	return append(out, swapElbows(r.Name, f, change{
		kind: EasierElbow, place: place, assumes: []string{"there is room for the longer turn", "the run is no shorter for it"},
		text: fmt.Sprintf("replace %s in %s by %s, with a straight piece between", which, r.Name, two),
	}, halves))
}

// halves makes two elbows of one, with a straight piece between.
func halves(f shop.Fitting, diameter float64) []shop.Fitting {
	first := easyElbow(f, diameter, f.Angle/2)
	second := first
	second.Pair, second.Spacing = shop.SameWay, between
	return []shop.Fitting{first, second}
}

// swapElbows completes a change that puts something in the place of every elbow of a run that is like f.
func swapElbows(run string, f shop.Fitting, ch change, by func(shop.Fitting, float64) []shop.Fitting) change {
	ch.draw = func(d *draft) {
		r := d.Run(run)
		d.renewed[d.drawn(run)] = true // one elbow of a run after another is bought only once
		var fittings []shop.Fitting
		for _, g := range r.Fittings {
			if !equalElbows(f, g) {
				fittings = append(fittings, g)
				continue
			}
			put := by(g, r.Diameter)
			fittings = append(fittings, put...)
			d.bought.add(elbow, r.Diameter, float64(len(put)))
			if len(put) > 1 {
				d.bought.add(pipe, r.Diameter, between*r.Diameter)
			}
		}
		r.Fittings = fittings
	}
	return ch
}

// easyElbow is an elbow of long radius in the place of another one, before or behind the same neighbours.
func easyElbow(f shop.Fitting, diameter, turn float64) shop.Fitting {
	f.Make, f.Angle, f.RadiusRatio, f.Pieces = shop.SmoothElbow, turn, easyRadius, 0
	if diameter > pressedUpTo {
		f.Make = shop.GoredElbow
		f.Pieces = max(3, int(math.Ceil(goredPieces*turn/(math.Pi/2))))
	}
	return f
}

// hard tells that an elbow loses more than it must: mitred, of tight radius, or of few pieces.
func hard(f shop.Fitting) bool {
	if f.Kind != shop.Elbow || f.Angle < leastTurn {
		return false
	}
	tight := f.RadiusRatio < easyRadius*(1-sameSize)
	switch f.Make {
	case shop.MitredElbow:
		return true
	case shop.GoredElbow:
		return f.Pieces == 2 || tight || f.Pieces <= poorPieces && f.Angle > poorPieceTurn
	case shop.SmoothElbow:
		return tight
	}
	return false // a bend of hose goes with the hose
}

func equalElbows(f, g shop.Fitting) bool {
	radius := f.RadiusRatio == g.RadiusRatio || math.IsNaN(f.RadiusRatio) && math.IsNaN(g.RadiusRatio)
	return f.Kind == g.Kind && f.Make == g.Make && f.Pieces == g.Pieces && math.Abs(f.Angle-g.Angle) < 1e-9 && radius
}

func elbowWord(f shop.Fitting, plural string) string {
	switch {
	case f.Make == shop.MitredElbow:
		return fmt.Sprintf("mitred %s elbow%s", degrees(f.Angle), plural)
	case f.Make == shop.GoredElbow:
		return fmt.Sprintf("%s elbow%s of %d pieces and radius %.2g D", degrees(f.Angle), plural, f.Pieces, f.RadiusRatio)
	}
	return fmt.Sprintf("tight %s elbow%s of radius %.2g D", degrees(f.Angle), plural, f.RadiusRatio)
}
