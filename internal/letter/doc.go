// Package letter says in plain words what goes to people: an alarm that has changed, the daily sign of life, the week, a
// test. It composes and does nothing else: no clock, no I/O.
//
// A letter about an alarm can be read by whoever finds it first: what, since when, how urgent, what to do, what can hurt,
// who has answered.
package letter
