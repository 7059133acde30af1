// Package live watches the sources of a shop for a person who stands beside them with a screwdriver: what each says
// now, in its own terms and in SI, how much it moves from sample to sample, what it reads while the fan stands, and
// whether that can be right. It keeps nothing and needs no store.
//
// Its words. A row is one channel. Noise is the standard deviation from one sample to the next, so that a pressure that
// drifts or steps does not count as noise. The zero is the mean of a pressure sensor while the fan is known to stand.
// The fan is known from its switch, or because the person says so; nothing is guessed from the pressures, since they are
// what is in question here.
//
// What it does not do: it sees some seconds only. A tap that plugs slowly, a zero that drifts over weeks and a gain that
// is off are seen by package estimate, from the record.
package live
