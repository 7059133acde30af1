// Package shop holds the owner's description of a workshop's dust extraction: what is built, what it must do, where the
// sensors sit and where the positions of the gates come from.
//
// The words are those of the trade. A collector is a fan with its separator and filter; a hood is where a machine's
// dust enters; a run is a stretch of one diameter and one material with its fittings; a drop is the branch of one
// machine; the trunk is what the drops join; a gate is the slide that shuts a drop; a selector joins one of several
// ports to its outlet (a moved hose is a selector whose ports are machines); a stub is a capped end kept for a machine
// to come.
//
// Air always flows along a run from From to To, from the machines towards the collector; a negative flow in a result
// runs the other way. All numbers are SI: m, m², m³/s, Pa, K, kg/m³, W, s, rad. Pressures are gauge, duct minus room,
// so suction is negative; a filter drop is dirty minus clean and positive. Units exist in the file only, and are
// converted once, when it is read.
//
// The package does no physics: it reads, checks and names things. A number that the owner did not give is NaN in a
// float64 field unless the field's comment states a default.
package shop
