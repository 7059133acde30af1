package shop

import "fmt"

// checkPoints reports a curve that is out of order or rises right of its peak, and tells whether it has a hump left of
// it. Left of the peak of a backward-inclined or axial fan the pressure may dip; right of it a rise is a slip.
func (o *object) checkPoints(v *value, points []CurvePoint) (humped bool) {
	if v.shape != list || len(points) != len(v.items) || len(points) < 2 {
		return false // its points are reported
	}
	peak := 0
	for i, q := range points {
		if q.Pressure > points[peak].Pressure {
			peak = i
		}
		if i > 0 && q.Flow <= points[i-1].Flow {
			o.wrong(v.items[i], fmt.Sprintf("curve point %d has %s, no more flow than the point before it", i+1, flowText(q.Flow)), "list the points by rising flow, each once")
			return false
		}
	}
	for i := peak + 1; i < len(points); i++ {
		if points[i].Pressure > points[i-1].Pressure {
			o.wrong(v.items[i], fmt.Sprintf("curve rises from %s to %s at %s, right of its peak", pressureText(points[i-1].Pressure), pressureText(points[i].Pressure), flowText(points[i].Flow)),
				"check this point against the fan's data sheet: beyond the peak a fan gives less pressure with more flow")
		}
	}
	if points[0].Flow > 0 {
		o.warn(v.items[0].line, fmt.Sprintf("%s: curve starts at %s; it is extended to no flow", o.where, flowText(points[0].Flow)), "add the point of no flow if the data sheet has it")
	}
	if peak > 0 {
		o.warn(v.items[peak].line, fmt.Sprintf("%s: curve has a hump: its peak of %s is at %s; left of it the working point may be ambiguous", o.where, pressureText(points[peak].Pressure), flowText(points[peak].Flow)), "")
	}
	return peak > 0
}

// checkCoefficients walks the polynomial from no flow to where it gives out.
func (o *object) checkCoefficients(v *value, c []float64) (humped bool) {
	if len(c) == 0 {
		return false
	}
	const steps, most = 2000, 50.0 // to 50 m³/s, the limit of a fan's flow
	at := func(q float64) (sum float64) {
		for i := len(c) - 1; i >= 0; i-- {
			sum = sum*q + c[i]
		}
		return sum
	}
	end := most
	if at(0) <= 0 || at(0) > fanPressure.hi {
		o.wrong(v, fmt.Sprintf("the coefficients give %.6g Pa at no flow", at(0)), "check the units and the order: the first is the pressure at no flow")
		return false
	}
	for q := 0.0; q <= most; q += 0.005 {
		if at(q) <= 0 {
			end = q
			break
		}
	}
	peak, peakAt := at(0), 0.0
	for i := 1; i <= steps; i++ {
		if q := end * float64(i) / steps; at(q) > peak {
			peak, peakAt = at(q), q
		}
	}
	if end == most {
		o.wrong(v, fmt.Sprintf("the coefficients still give %s at %s", pressureText(at(most)), flowText(most)), "check the units and the signs: the pressure must fall to nothing")
		return false
	}
	before := peak
	for i := 1; i <= steps; i++ {
		q := peakAt + (end-peakAt)*float64(i)/steps
		if at(q) > before*(1+1e-9) {
			o.wrong(v, fmt.Sprintf("the curve of the coefficients rises at %s, right of its peak", flowText(q)), "check the signs, or give points instead")
			return false
		}
		before = at(q)
	}
	if peakAt > 0 {
		o.warn(v.line, fmt.Sprintf("%s: curve has a hump: its peak of %s is at %s; left of it the working point may be ambiguous", o.where, pressureText(peak), flowText(peakAt)), "")
	}
	return peakAt > 0
}
