//go:build race

package estimate_test

// raced tells that the race detector is at work. It slows a simulation fivefold, and what it looks for does not hang on how
// many plants there are: there are fewer then.
const raced = true
