package steady

import "math"

// The bounds of a zero.
const (
	// zeroBound is how far a zero may lie from nothing: further is a fault, not a zero.
	zeroBound = 100.0 // Pa
	// zeroJump is how far a zero may lie from the one before. A part of 2.5 kPa drifts a few Pa over months (common
	// practice, no source); a jump is told and not absorbed.
	zeroJump = 30.0 // Pa
	// zeroNoise is the largest standard error of a zero: more is not still air.
	zeroNoise = 1.5 // Pa
	// zeroValues is how many samples or rows a zero is made of at least, so that they can disagree. A row may be the mean of
	// a whole minute, and a recorder of such rows that wakes shortly before the fan has few; how much they tell is in
	// their standard error.
	zeroValues = 2
)

// keepStill remembers the last whole hour of still air and lets the rest go: the zero that counts is the latest one.
func (f *Folder) keepStill() {
	run := f.still()
	f.previous = &run
}

// still makes the run of a stretch with the fan off. It ends with its last sample: sensors may rest with the fan, and a
// zero is as old as what was read. The hours of the fan are left to the next run with the fan on.
func (f *Folder) still() Run {
	run := f.summarise(f.sampled)
	run.At, run.FanHours = f.sampledAt, 0
	return run
}

// endStill ends a stretch with the fan off: the zero is taken, and the run that records it is appended.
func (f *Folder) endStill(out []Run) []Run {
	run := Run{}
	switch {
	case f.steady(f.sampled) >= shortestZero:
		run = f.still()
	case f.previous != nil:
		run = *f.previous
	}
	f.previous = nil
	if len(run.Channels) == 0 {
		return out
	}
	f.takeZeros(&run)
	return append(out, run)
}

// takeZeros takes the zero of each pressure channel that has a fair one, and marks in the run which were taken: Zero
// holds the zero in force after it.
func (f *Folder) takeZeros(run *Run) {
	for i := range run.Channels {
		s := &run.Channels[i]
		if !f.zeroed[s.Channel] {
			continue
		}
		z, had := f.zeros[s.Channel]
		taken := fair(s, z, had)
		if taken {
			z = Zeroing{Value: s.Mean, SE: s.SE, Boot: run.Boot, Mono: run.End, At: run.At}
		} else {
			z.Refused = s.Mean
		}
		if had || taken {
			f.zeros[s.Channel] = z
		}
		s.Zero = z.Value
	}
}

// fair tells whether a still stretch is a zero.
func fair(s *Summary, z Zeroing, had bool) bool {
	return s.Still() && math.Abs(s.Mean) <= zeroBound && (!had || math.Abs(s.Mean-z.Value) <= zeroJump)
}

// Still tells whether a channel was read well enough with the fan off to say what it reads then.
func (s *Summary) Still() bool { return s.N >= zeroValues && s.SE <= zeroNoise } // no comparison holds for NaN

// Restore takes back the zeros that a stored run recorded, so that a restart goes on with them.
func (f *Folder) Restore(run *Run) {
	if run.Kind == Contact && len(run.Channels) == 1 {
		f.restoreContact(run)
	}
	if run.Kind != Zero {
		return
	}
	again := Run{Boot: run.Boot, End: run.End, At: run.At, Channels: append([]Summary(nil), run.Channels...)}
	f.takeZeros(&again)
}
