// Package daemon runs the always-on watch: it samples, folds, stores, raises alarms, serves the dashboard and publishes.
//
// Its words. A channel is one sensor or one switch as package reading names it. The intake puts a place in time (boot,
// monotonic time, sequence) on every reading, in one order for all sources. The fold is the one goroutine that takes
// readings in that order: it stores them, gives them to the watch, and turns findings into alarms. History is the same
// sampling and the same fold on a virtual clock, and Run goes on from it.
//
// The flow and its goroutines:
//
//	bus 1 ─┐
//	bus 2 ─┤            one lock           one goroutine
//	pins  ─┼─ sampler ──► intake ──batches──► fold ──► store
//	topics─┘                                    ├────► watch ──► alarms
//	                       by hand, journal ───►┤                  │
//	                       (dashboard)          └────► snapshot ───┼──► dashboard
//	                                                               └──► outbox ──► people, broker
//	                                            store ──► values ────────────────► broker
//
// Order of use, and so of stopping: sampling first, then the fold (which takes in what was sampled, ends the open runs
// and commits), then the copies and the dashboard, then publishing and upkeep, then the store. When one part fails, all stop, in this order.
//
// At a start the watch is made anew from what is stored: runs and journal in the order in which they happened, then the
// raw readings behind each collector's last run. That is done beside everything else, since years of runs take a small
// board a while; what is read meanwhile is stored, and told to the watch when it is made. The same happens when somebody
// notes in the journal what was done before the last run, so that it counts from when it was done.
//
// What is stored when. Readings are committed every half minute while a fan runs and every five minutes while all
// stand; runs with the readings they came from; alarms, journal entries and what is set by hand before they are answered. A power cut loses at most the
// readings since the last commit.
//
// Who looks after the file. Upkeep lets go of old readings, has the file written anew where half of it lies free, and has
// it set aside where a page of it cannot be used: readings go on in memory meanwhile, the logbook says what was done, and
// an alarm does. While the daemon runs nobody else can open the file, so it hands out copies of it over a socket in the
// data folder (copies.go), to the user who runs it.
//
// The daemon advises and commands nothing: it publishes, it takes no commands, and it moves no machine.
package daemon
