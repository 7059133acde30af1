// Package hardware is where readings come from: pressure sensors on I²C, switches on GPIO and values that others
// publish over MQTT.
//
// Its words. A source is what the shop file names for a channel: a chip at an address of a bus, a pin, or a topic. A
// poller asks one source when it is told to; a pushed channel sends by itself. A fault is why a channel has no value
// now. A bus is a group of pollers that share wires, and that one goroutine should read, so that a bus that is locked
// up delays no other.
//
// Its promise: a channel yields a number that was measured just now, or no number and a named fault. A value is never
// repeated, a chip at an end of its range is a fault and not that end, and a chip that comes back after it was
// unplugged is set up again and read without help from anybody. What it cannot see is left to those who see more: a
// chip that froze at zero while the fan stood (see stuck.go), a tap that is plugged, a zero that drifts.
//
// Values are SI: gauge Pa, K, 1 for open or running, a port's number. The packages below it know one chip each and
// nothing of shops; hardware/rig stands in for the wires.
package hardware
