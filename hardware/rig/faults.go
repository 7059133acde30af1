package rig

import "fmt"

// fault is a way in which a wire or part can fail.
type fault int

const (
	unplug fault = iota
	stick
	badCRC
	saturate
	latchUp
	chatter
)

// faults are those that a part has now.
type faults struct {
	unplugged, stuck, badCRC, saturated, chatters bool
}

// set adds a fault.
func (s *faults) set(f fault) error {
	switch f {
	case unplug:
		s.unplugged = true
	case stick:
		s.stuck = true
	case badCRC:
		s.badCRC = true
	case saturate:
		s.saturated = true
	default:
		return fmt.Errorf("this part cannot fail so")
	}
	return nil
}

// fail breaks a channel.
func (r *Rig) fail(channel string, f fault) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	b, ok := r.channels[channel]
	if !ok {
		return fmt.Errorf("rig: no wire of the shop carries channel %q", channel)
	}
	if err := b.fail(f); err != nil {
		return fmt.Errorf("rig: channel %q: %w", channel, err)
	}
	return nil
}

// Unplug takes a part off its wires: it acknowledges nothing; a switch's wire is cut; a topic falls silent.
func (r *Rig) Unplug(channel string) error { return r.fail(channel, unplug) }

// Stick lets a part answer its last measurement for ever, a switch keep its position, a topic its payload.
func (r *Rig) Stick(channel string) error { return r.fail(channel, stick) }

// CorruptCRC damages a checksum in every answer of a part that sends one.
func (r *Rig) CorruptCRC(channel string) error { return r.fail(channel, badCRC) }

// Saturate drives a part against the upper end of its range.
func (r *Rig) Saturate(channel string) error { return r.fail(channel, saturate) }

// LatchUp lets an ABP2 answer a good status without counts, as it does after a disturbed supply.
func (r *Rig) LatchUp(channel string) error { return r.fail(channel, latchUp) }

// Chatter lets a switch open and close at every look, as one does that is loose or whose wire lies beside a drive's.
func (r *Rig) Chatter(channel string) error { return r.fail(channel, chatter) }

// Mend makes a channel whole again.
func (r *Rig) Mend(channel string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	b, ok := r.channels[channel]
	if !ok {
		return fmt.Errorf("rig: no wire of the shop carries channel %q", channel)
	}
	b.mend()
	return nil
}
