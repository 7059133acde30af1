//go:build !race

package estimate_test

// raced tells that the race detector is at work. It slows a simulation fivefold, and what it looks for does not hang on how
// many plants there are: one of a kind is enough then.
const raced = false
