// Package whichopen tells which gates are open from the pressures alone, run by run, with probabilities.
//
// # How
//
// A run is a stretch in which nothing was moved. For each candidate, a set of open gates, the caller says what the
// channels should read, how that moves with what all runs share (the filter's resistance, leakage, the fan), and how
// far a run may lie from it: the covariance of what differs from run to run, with what the caller has learnt of that
// set, or has not. The filter goes through the runs once, in their order. Each run's prior is the belief about the run
// before it, moved on: somebody opens or shuts one machine more often than two at once, and what a shop does often
// comes first. Bayes' rule with the density of the readings gives the belief after it.
//
// What all runs share is carried along as one normal distribution. A run updates it under each candidate, and the
// mixture is replaced by the normal distribution of the same mean and covariance (the generalised pseudo-Bayesian
// filter of first order: Ackerson and Fu 1970; Bar-Shalom and Li, Estimation and Tracking, 1993, section 11.6, from
// memory). It may jump: somebody cleaned the filter, a seam opened.
//
// Nothing is forced on the readings. A class of its own, "none of these", has a share of the prior and a stated density
// that is flat in the logarithms of the readings; a run that no candidate explains falls to it.
//
// # Words
//
// Readings are natural logarithms of the sizes of the pressures, so that scales and laws of proportion are sums, and
// errors are relative. A set is known by its key; its machines are numbered by the caller, and the number of machines
// in which two sets differ is how many moves lie between them. The package knows no ducts, reads no clock, draws no
// random numbers, and takes its sums in the order of the candidates.
package whichopen
