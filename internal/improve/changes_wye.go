package improve

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// steep (rad) is the angle from which a wye is replaced, and easier the angles that come in its place.
const steep = 50 * math.Pi / 180

var easier = []float64{math.Pi / 4, math.Pi / 6}

// wyes replaces tees and steep wyes by wyes of 45° and 30°. The branch comes from where it came, so that it needs an elbow
// for the rest of the turn.
func wyes(c *shop.Collector) []change {
	var out []change
	for _, j := range c.Network.Junctions {
		if j.Kind != shop.Wye || j.Angle < steep {
			continue
		}
		for _, angle := range easier {
			out = append(out, easierWye(j, angle))
		}
	}
	return out
}

func easierWye(j *shop.Junction, angle float64) change {
	name, branch, turn := j.Name, j.Branch, j.Angle-angle
	what := fmt.Sprintf("%s wye", degrees(j.Angle))
	if math.Abs(j.Angle-math.Pi/2) < 1e-6 {
		what = "tee"
	}
	return change{
		kind: EasierWye, place: "wye " + name,
		text:    fmt.Sprintf("replace the %s %s by a wye of %s, with an elbow of %s at the end of %s", what, name, degrees(angle), degrees(turn), branch),
		assumes: []string{"the branch comes from where it came, so that it needs that elbow", "the new corner is sharp"},
		draw: func(d *draft) {
			wyeAt, run := d.Junction(name), d.Run(branch)
			wyeAt.Angle, wyeAt.Swept = angle, 0
			f := easyElbow(shop.Fitting{Kind: shop.Elbow}, run.Diameter, turn)
			if run.Flexible {
				f.Make, f.Pieces = shop.HoseElbow, 0
			} else {
				d.bought.add(elbow, run.Diameter, 1)
			}
			run.Fittings = append(run.Fittings, f)
			d.bought.add(wye, widestAt(d.Collector, name), 1)
		},
	}
}

// widestAt is the largest diameter at a junction.
func widestAt(c *shop.Collector, junction string) float64 {
	widest := 0.0
	at := shop.End{Kind: shop.EndJunction, Name: junction}
	for _, r := range c.Network.Runs {
		if r.To == at || r.From == at {
			widest = math.Max(widest, r.Diameter)
		}
	}
	return widest
}
