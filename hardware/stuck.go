package hardware

import "fmt"

// stuckAfter is how many times in a row the very same count may come while the duct is under pressure. Moving air is
// turbulent, some Pa from second to second, and a count is 0.0004 Pa (ABP2, ±2.5 kPa) or 0.017 Pa (SDP8xx, 500 Pa): with
// noise of only 1 Pa s.d. the chance that an SDP8xx repeats once is under 1 %, thirty times in a row under 1e-60.
const stuckAfter = 30

// stuckWatch looks for a chip that converts no more and answers its last count again and again.
//
// It looks only while the pressure is clearly away from zero. With the fan off nothing need move: an SDP8xx averages
// over the second between readings, its noise is then about a count, and it may rightly answer 0 all night. A chip that
// freezes at zero while the fan stands is therefore not seen here; it is seen when the fan starts and this channel does
// not follow, by whoever watches all channels together.
type stuckWatch struct {
	quiet float64 // Pa: nearer to zero than this, repeats mean nothing
	last  int32
	runs  int // how often last came again
}

type stuckError struct {
	counts int32
	runs   int
}

func (e *stuckError) Error() string {
	return fmt.Sprintf("count %d came %d times in a row, where turbulence must move it", e.counts, e.runs)
}

// see takes the next count. A different count clears it at once.
func (w *stuckWatch) see(counts int32, pa float64) error {
	if counts != w.last || (pa < w.quiet && pa > -w.quiet) {
		w.last, w.runs = counts, 1
		return nil
	}
	w.runs++
	if w.runs <= stuckAfter {
		return nil
	}
	return &stuckError{counts, w.runs}
}
