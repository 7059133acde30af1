// Package outbox holds what is on its way to people and to other programs: letters, each to one target, until the target
// has taken it or it has been given up.
//
// What is promised: a letter that is put is delivered at least once, or said to be dead. A target hears its letters in the
// order in which they were put, but for those that quiet hours hold back: what must be acted on today goes past them. A
// target that does not answer is tried again after a pause that doubles up to a cap, and holds up no other. A letter that
// could not be delivered in the time that its owner allows is dead, is kept, and is shown. Time counts while it is tried:
// a board that was off for a week gives nothing up at its start.
//
// Every letter has an identity that the same event always has, so that a receiver can drop what comes twice, and so that a
// power cut between sending and noting makes a repeat and no loss.
//
// The package reads no clock and does no I/O: the caller says what time it is, sends, and says how it went; a Keeper
// stores.
package outbox
