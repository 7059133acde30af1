// Package nexttest ranks measurements that have not been made by what they should tell: which of several suspects it is.
//
// # Words
//
// A suspect is one explanation of what was found, with its probability; suspects of one group need not be told apart. A
// test is one run of unchanged gates that could be made. For each suspect it says what every channel would then read on
// average, relative to what all suspects have in common, and how far the single reading may lie from that.
//
// The gain of a test is the expected reduction of the entropy of the groups, the mutual information between group and
// reading (Lindley 1956, On a measure of the information provided by an experiment, Annals of Mathematical Statistics 27,
// 986; Shannon 1948), in nats: no test of finite length gives more than the entropy itself, and a useless one gives
// nothing. One bit is ln 2 nats.
//
// # How
//
// Given a suspect, the readings are normally distributed. The expectation over them has no closed form and is taken by a
// fixed lattice of points in place of random ones, so that the same input gives the same ranking, bit for bit. What is
// averaged is the divergence of the belief after a reading from the belief before, which is never negative.
//
// The package knows no ducts: what a gate set does to a channel, and which sets may be proposed at all, is its caller's
// matter. Units are the caller's as well, the same in means and (squared) in covariances.
package nexttest
