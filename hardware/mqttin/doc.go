// Package mqttin turns what others publish over MQTT (OASIS MQTT 3.1.1) into readings.
//
// A payload is one of four things: a plain number ("−12.5"), a word for a switch ("open", "off"), a JSON object of which
// one field holds either, or a SenML pack in JSON (RFC 8428). The decoder is pure: payload and time of arrival in,
// readings out; the subscriber is the part that talks to a broker.
//
// What comes is not trusted. A payload over 4 KiB, a number that is not finite, a value outside what the quantity can
// be in a workshop, and a word that is none are refused with a reason, and are no reading.
//
// Fresh and old: a message that a broker retained looks as if it were sent now. It counts only where it carries its own
// time (SenML) and the board's clock is trusted, so that its age is known and within what the shop file allows; an
// ordinary message without a time was measured when it arrived. A reading keeps the monotonic time of its arrival, since
// that is what orders readings; its own time, where believed, becomes the label.
package mqttin
