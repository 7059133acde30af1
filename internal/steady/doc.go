// Package steady folds readings into runs: stretches in which the fan ran (or rested) and no gate moved, with the
// transient after each change dropped and every pressure channel's zero subtracted.
//
// A run is one observation for the estimate. Turbulence is correlated over seconds, so the standard error of a mean
// comes from the effective number of samples, not from their count. The fold takes readings in stored order, reads no
// clock and draws no random numbers: the same readings give the same runs, bit for bit.
package steady
