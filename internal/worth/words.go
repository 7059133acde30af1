package worth

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/shop"
)

// little is the score from which on something is worth a sentence.
const little = 0.05

// First says what to add first, and what that brings, in one sentence that could be read aloud.
func (a *Answer) First() string {
	if len(a.Candidates) == 0 || a.Candidates[0].Score < little {
		return "nothing that could be added would let this shop see much more than it does."
	}
	best := a.Candidates[0]
	now, then := a.Now, best.Figures
	var brings []string
	if math.IsInf(now.Week, 1) && !math.IsInf(then.Week, 1) {
		brings = append(brings, fmt.Sprintf("a leak of %s is found within a week, where none was", flow(then.Week)))
	} else if shrinks(now.Week, then.Week) >= little {
		brings = append(brings, fmt.Sprintf("a leak of %s is found within a week instead of one of %s", flow(then.Week), flow(now.Week)))
	}
	if gained := then.Stretch - orNone(now.Stretch); gained >= little {
		brings = append(brings, fmt.Sprintf("the right stretch of the trunk is named first %.0f times of a hundred instead of %.0f",
			100*then.Stretch, 100*orNone(now.Stretch)))
	}
	if math.IsNaN(now.Filter) && !math.IsNaN(then.Filter) {
		brings = append(brings, fmt.Sprintf("the filter is known to %.1f %%, where nothing was", 100*then.Filter))
	}
	if len(brings) == 0 {
		return fmt.Sprintf("what would bring most is %s.", best.Text)
	}
	return fmt.Sprintf("what would bring most is %s: %s.", best.Text, strings.Join(brings, ", and "))
}

// orNone is a share, 0 where nothing is known of it.
func orNone(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// flow writes a leak as it is spoken of.
func flow(x float64) string {
	if x *= 3600; x < 10 {
		return fmt.Sprintf("%.1f m³/h", x)
	}
	return fmt.Sprintf("%.0f m³/h", x)
}

// Lack is something that a shop file does not say, and what saying it would bring.
type Lack struct{ Key, Brings string }

// Lacks lists what the description of a collector without a drawing could say beyond what it does, the least work first.
func Lacks(c *shop.Collector) []Lack {
	var out []Lack
	add := func(missing bool, key, brings string) {
		if missing {
			out = append(out, Lack{key, brings})
		}
	}
	add(!has(c, shop.FilterDrop), "sensors: filter drop", "the filter's loading, and all leakage together while every gate is shut")
	add(!has(c, shop.StaticPressure), "sensors: static pressure", "how easily the ducts let air in, a slow fan, a choked trunk")
	add(len(c.Fan.Points) == 0 && len(c.Fan.Coefficients) == 0, "fan: curve", "the total flow, and the filter's resistance apart from the flow")
	add(!(c.Filter.CleanDrop > 0), "filter: clean, limit", "the date on which the filter is due, by its own limit")
	add(len(c.Gates) == 0 && len(c.Selectors) == 0, "gates", "what each set of open gates should read, so that a leak is told from another machine in use, and the branch that is suspected")
	add(len(c.Machines) == 0, "machines", "whose air it is, and with its need, who is short of it")
	add(!(c.Rating > 0), "rating", "a stretch with every gate shut, which tells leakage best, asked for where the ducts bear it")
	add(true, "ducts", "the air at every machine and where dust may settle; which stretch, gate or drop leaks; what a repair brings; and a list, by this shop's own ducts, of what each further sensor would let it see")
	return out
}
