//go:build !race

package duct_test

// raced tells that the race detector is at work: a sync.Pool then throws away at random what is put back into it.
const raced = false
