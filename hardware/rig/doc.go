// Package rig puts a board's wires on simulated plants: I²C buses whose parts answer byte for byte as the real ones do,
// pins with the levels of the real switches, and the payloads that other boards would publish. Whatever reads a board
// reads a rig without a change, and its drivers are exercised to the last bit.
//
// A rig follows the clock that it is given. On a clock whose Sleep does not move it (clock.Virtual), conversions take no
// time, since nobody can wait for them; on any other a part that is asked too early is busy, as a real one is.
//
// The parts are modelled on their datasheets as far as the drivers can see them. Not modelled: general calls, clock
// stretching, the averaging of an SDP8xx between reads (turbulence is correlated over seconds, so that the mean over one
// second hardly differs from its end), and errors of the parts themselves beside those that the plant gives each sensor.
//
// Demo is the shop of the demonstration: about six months of invented work up to a moment, and unceasing work from then
// on. Every number that it yields is simulated.
package rig
