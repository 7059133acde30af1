//go:build race

package trial

// raced tells that the race detector is at work. It slows a simulation fivefold, and what it looks for does not hang on how
// many plants there are: one of a kind is enough then.
const raced = true
