// Package improve finds which changes of a shop's ducts would give the machines that lack air most: each change is drawn
// into a copy of the drawing and solved, in every set of open gates, and none is told by what the model's slopes promise.
//
// # Where the shop is judged
//
// The usual sets are each machine alone, each pair, and all together; the owner may name others. A set is beyond the
// collector when its machines need more than the fan moves with filter, separator and discharge but without any ducts: no
// change of the ducts serves them at once. It counts for nobody's need then, unless the owner named it, but dust must be
// carried there all the same where it is carried now.
//
// # Gain
//
// A spot is one machine in one set. A machine is needy when it is short (less air than it needs) at one spot or more that
// counts. Where nobody is short, the one needy spot is that where a machine has the least share of its need. What a change
// brings a needy machine is the mean, over the spots at which it is short as drawn, of its air with the change less its
// air without; it may be negative. The gain of a change is the sum of that over the needy machines, in m³/s. Air beyond
// the need counts as well: a margin is worth having. What the change takes from others is told beside it, and a machine
// that becomes short by it is told in every case.
//
// # What is not advised
//
// A change is refused, with the reason, when in any set a used run becomes slower than what carries the dust and was not
// before, when a run that it makes wider is too slow in a set that counts, before or not, or when the suction goes
// beyond what the ducts are rated to bear. Which runs are used, and what carries, are the verdict's words (package
// verdict).
//
// # What stays and what is drawn anew
//
// See draft.widen for larger pipe: measured and stated hoods lose what they lost, other coefficients go with the new
// velocity pressure, and the reducers at both ends are drawn anew. A branch of a new wye comes from where it came. Each
// proposal carries what it assumes.
//
// # One after the other
//
// Changes do not add up. The steps do the best change first and solve the others again with it in place, up to five
// times, taking none that is refused or makes a machine short, none at a place that was changed, and none that buys a run
// twice.
//
// Everything is SI; sizes and money stand in the texts as the owner says them. A price list is the owner's own; without
// it nothing is said about money.
package improve
