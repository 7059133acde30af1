// Package plant is the simulated truth: one collector with its ducts as they were really built, its sensors with their
// errors, and the days of work that a shop puts it through.
//
// It exists to judge the estimator, so it shares neither code nor formulas with the duct model. Friction is Haaland's,
// not Colebrook and White's; streams meet at equal static pressure and mix by energy, not by the handbooks' coefficient
// over the combined flow; seams leak half as holes and half as cracks at the static pressure along the run; elbows are
// Weisbach's; the fan's curve runs through its points by other cubics. Upon that the plant differs from its own drawing
// by errors that are drawn once from a seed (Options.AsBuilt), as every real plant does.
//
// Words and signs are those of package shop: SI, gauge pressures, suction negative, filter drop dirty minus clean, flow
// positive from From to To. Air is incompressible at the density of the room: at 3 kPa of suction this is wrong by 3 %
// in density, which a baseline absorbs.
//
// A Plant has a state that setters change (gates, fan, filter, leaks, blockages, air), means that follow from it (Mean,
// Truth; solved lazily, once a change) and samples of its sensors (Sample, Window) with gain, zero, turbulence and lag.
// Workdays makes the events of working days; Plant.Apply puts them into effect. Everything is a function of the seeds
// and of the order of calls. A Plant is not safe for concurrent use.
package plant
