// Package bound tells what the readings of a collector can tell at all: how large a leak must be to be seen, whether its
// place can be told, whether it can be told from a blocked drop, how well the filter and the air at a machine are known.
// It is the information that readings carry, with everything else that may lie behind them left free; no estimate, however
// it is made, can do better on the average with this model (Cramér and Rao; Van Trees 1968 where there are priors).
//
// # The model of the readings
//
// A reading is told as the logarithm of its ratio to what the duct model expects. In run r of day d, with the gate set s,
// channel c reads
//
//	y = b[s,c] + u[d]·δ[s,c] + F·(f[d] + slope[d]·(t − t̄)) + D·ρ[d] + S·(v[d] + v[r]) + e[d,c] + z[d,c]/P + Σ B·h[r] + noise
//
// with F, D, S and B the derivatives of the model by the filter's log resistance, density, speed and a drop's log loss, and
// P the pressure. The bias b of each set and channel lasts for the whole record and is known beforehand only as well as a
// drawing knows it: common factors on losses and leakage, runs that are built otherwise, the gain of each sensor, and an
// error of each set's own. Of the rest, f is free each day; ρ, v[d] and e have a standard deviation and, the air and the
// errors, a correlation from one working day to the next; z is what a zero is off by on a day; h is what a machine's hood is
// off by in a use, v[r] the speed in a run, and the noise is turbulence and a floor for what nothing else accounts for.
//
// δ is what has changed, for each set and channel, and u is its course: 0 before the onset and 1 after for a step. Whatever
// changes in the plant makes a δ that the duct model's derivatives give: δ = J·x. So a record is first reduced to the
// information on δ, which knows no hypotheses, and then asked.
//
// Two errors grow with a change and no record makes them smaller: what the change does to each tap is taken from a drawing
// (ducts are drawn that are built otherwise), and the scale of all flows. They widen sizes and mix up places, and are left
// out of nothing but the question whether there is a change at all.
//
// # Words
//
// A set is the gates that are open, a run a stretch of time with one set, a change something that has become otherwise: a
// leak at a part (m³/s at the reference suction), or the logarithm of a drop's loss, of a trunk run's, of the fan's speed or
// of a sensor's scale. A space is the information on changes, turned so that its noise has unit variance in each of its
// directions. SI; logarithms are natural.
//
// # What it does not do
//
// It is linear, about the plant as drawn with a filter of a given resistance. It knows no outliers, no plugged taps, and
// nothing of how long somebody takes to notice.
package bound
