// Package duct is the model of one collector's ducts: from the drawing, the fan, the filter and the positions of the
// gates it computes every flow and pressure, what each sensor should read, and how those readings move when the filter
// loads, a belt slips, a drop clogs or a seam opens.
//
// # Words and signs
//
// A node is a place with one total pressure: a joint of runs, the middle of a run, the collector's inlet. The room is
// at 0. An edge is what lies between two nodes and resists the flow; its flow is positive from From to To, towards the
// collector. Pressures are gauge, duct minus room, so suction is negative. Total pressure is static pressure plus
// velocity pressure ρV²/2; nodes hold total pressures, taps and leaks feel the static one. Inside, everything is SI:
// m, m³/s, Pa, kg/m³, Pa s.
//
// # The elements
//
// Each run is two edges with a node in its middle, where its seam leaks; a run with a gate has the gate at its machine's
// end, right behind the hood where the run begins at a machine. The collector, with separator, filter, fan and
// discharge, is one edge from its inlet to the room. A shut gate, and a shut port of a selector, is a bridge: its flow
// follows from the difference in pressure by the leak law of its seat. A leak is a bridge to the room, driven by the
// static pressure. A wye adds to its straight and its branch run a loss, possibly negative, that depends on both flows; a
// tee is a wye of 90°, and a splitter one with both legs at an angle. The fan turns at the speed at which the shop says
// that it runs, times that of the state; what a poor inlet takes is off its rise.
//
// # The solve
//
// The unknowns are the flows of the edges and the pressures of the nodes. Newton's method on the whole set eliminates
// the flows first, which leaves one equation a node (the global gradient method, Todini and Pilati, "A gradient
// algorithm for the analysis of pipe networks", 1988); all derivatives are analytic, those of the wyes and of the
// static pressure at leaks included, so that the matrix is that of the exact Jacobian and serves the sensitivities as
// well. Its pattern does not depend on the gates, and is ordered and analysed once, in New. A step is shortened until the
// scaled sum of squared residuals falls. Where the losses are monotone (every element but a wye and a humped fan) the
// Jacobian is never singular and this converges from anywhere; for the rest the solve can fall back on letting the air
// come to rest by itself, and on growing the wyes from nothing to their full strength. An answer that has not converged
// is an error and is never given out. WorkingPoints looks for other answers.
//
// A solve starts from the linear network with the frictions of air at 20 m/s, scaled to where the fan meets it; from an
// earlier answer it starts at that answer's flows and frictions. A friction factor moves from a Reynolds number to one
// nearby by Taylor's series or by Halley's method with the logarithm as a series, to machine precision all the same.
// There are two layouts of a model: the full one, and a sparse one in which a run whose seam is tight is one edge and
// has no node for leaks. A state without added leaks is solved in the sparse one. Nothing is allocated by Renew.
//
// # What it does not do
//
// Air is incompressible and has one state throughout. Dust in the air weighs nothing. A joint that is no wye has no
// loss of its own: what it loses is written on its runs. A leak's coefficient does not depend on density. How wind or
// a room under suction shifts the zero of a gauge is not the model's business.
package duct
