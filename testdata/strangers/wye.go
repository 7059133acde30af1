package main

import "math"

// law is what a wye does to its two streams. Handbooks and laboratories do not agree; a shop's wyes follow one of these.
type law int

const (
	fixedShare law = iota // each leg loses a share of its own velocity pressure; an idle leg stands at the stream's total pressure
	byRatio               // coefficients on the common velocity pressure, by the ratio of the flows
	poorEnergy            // the legs meet at one static pressure; of the mean of their energies beyond the stream's own, 0.6 is regained
	meanEnergy            // the same, all of it regained
	momentum              // the legs meet at one static pressure, and the momentum along the run is kept
	mixture               // halfway between the second and the last

	laws = int(mixture) + 1
)

const regained = 0.6 // of poorEnergy

// losses returns the total pressure that each leg's stream loses in a wye, in Pa. v are velocities, q flows.
func (l law) losses(rho float64, straight, branch, common stream, angle float64) (loseStraight, loseBranch float64) {
	ps, pb, pc := straight.pressure(rho), branch.pressure(rho), common.pressure(rho)
	switch l {
	case fixedShare:
		return 0.05 * ps, 0.25 * pb
	case byRatio:
		x := branch.flow / math.Max(common.flow, 1e-9)
		return (0.35*x - 0.1*x*x) * pc, (-0.5 + 1.9*x - 0.6*x*x) * pc
	case poorEnergy, meanEnergy:
		mean := (straight.flow*ps + branch.flow*pb) / math.Max(common.flow, 1e-9)
		rise := mean - pc
		if l == poorEnergy && rise > 0 {
			rise *= regained
		}
		return ps - pc - rise, pb - pc - rise
	case momentum:
		rise := rho * (straight.flow*straight.flow/straight.area + branch.flow*branch.flow*math.Cos(angle)/branch.area -
			common.flow*common.flow/common.area) / common.area
		return ps - pc - rise, pb - pc - rise
	default:
		s1, b1 := byRatio.losses(rho, straight, branch, common, angle)
		s2, b2 := momentum.losses(rho, straight, branch, common, angle)
		return (s1 + s2) / 2, (b1 + b2) / 2
	}
}

// stream is air that moves through a cross-section.
type stream struct{ flow, area float64 } // m³/s, m²

// pressure is the velocity pressure, Pa; negative where the air flows the other way.
func (s stream) pressure(rho float64) float64 {
	v := s.flow / s.area
	return rho / 2 * v * math.Abs(v)
}
