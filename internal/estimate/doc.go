// Package estimate folds the runs of one collector, and what people did, into the state of the plant with its
// uncertainty, and into findings.
//
// # How
//
// Everything is told against a baseline: the first working days, from which the model's few calibration factors and,
// for each set of open gates and each sensor, the ratio of what was read to what the calibrated model expects are
// taken. That ratio holds all that is constant and unknown: the sensor's gain, the as-built ducts, the handbook's
// coefficients. Afterwards only changes count.
//
// A day of runs is one linear system about the model's prediction. Its nuisances are the filter's resistance at that
// day (one value for each stretch between cleanings, with its slope), the fan's and the air's small variations, and an
// error of each sensor that is common to the day. They are integrated out; what is left is what the day says about the
// parameters that may change for good: the leak in each zone, the loss of each drop, the fan, each sensor's scale. The
// record of days is scanned by package detect for the hypothesis "one thing changed".
//
// # Words
//
// A gate set is the set of open gates and selector positions of a run. Leakage is at the reference suction and new
// since the baseline. Ratios are against the baseline, 1 when nothing changed.
//
// The package reads no clock, draws no random numbers and does no I/O. Sums run in a fixed order.
package estimate
