// Package detect holds the statistics of change: when has something begun, what, how much, and how sure.
//
// A record is a row of days. Each day says what it knows of a vector of parameters p (leaks, blockages, fan, sensors,
// all against the baseline) by its information matrix Λ and information vector η = Λ·p̂, the day's own nuisances already
// integrated out. That is all that is kept of a day, and it is exact while the model is linear and its errors are
// Gaussian.
//
// A hypothesis says that one parameter changed at one onset, at once (a step) or steadily (a ramp), by an unknown size.
// The parameters before the onset are not known exactly either: they are a nuisance with the information that the
// baseline and the days before the onset bring. The package knows no ducts.
package detect
