// Package draw draws the air's way through one collector: machines on the left, trunk, separator, filter and fan on the
// right, always in that order, as one SVG picture without script or outside reference.
//
// There are two pictures. Picture is read from across the shop: the width of the air, and what the estimate makes of
// leaks and filter. Sheet is read at a desk or on paper: every run with its name, diameter, flow, velocity and static
// pressure. The signs are the same in both.
//
// Width is always flow. A drop is a channel as wide as the air that its machine needs, filled from its floor as far as
// the air that it gets; a shut gate is a bar across it, and a shut drop is only a thin line. The trunk is as wide as
// what the open machines need together, or as what flows if that is more. Where dust may settle the floor is dotted.
// New leakage enters as barbs from outside, as wide as the air that they would bring at the place. The filter is a comb
// whose teeth fill up to the mark at which it must be cleaned. Hatching is "cannot tell", a doubled edge is
// uncertainty.
//
// The drops near the collector lie outermost and those at the far end lie next to the trunk's axis, above and below in
// turn, so that no channel crosses another. In a Sheet every far end has a row and trunks come down on its right, for the
// same reason. A ring of ducts is cut open at one junction, and the cut is named.
package draw
