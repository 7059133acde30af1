package bound

// Run is one stretch of unchanged gates with the fan on.
type Run struct {
	Set     int     // among the response's sets
	At      float64 // h of fan on that day, of its middle
	Seconds float64 // that count: what settles is left out
	Uses    []int   // by hood of the set: the number of that machine's use among the uses of the day; nil: a use of its own for each
}

// Day is the runs of one working day, in any order.
type Day []Run

// Step returns the course of a change that begins after some of the days and stays.
func Step(before, after int) []float64 {
	u := make([]float64, before+after)
	for d := before; d < len(u); d++ {
		u[d] = 1
	}
	return u
}

// Ramp returns the course of a change that grows by 1 a working day after some of the days.
func Ramp(before, after int) []float64 {
	u := make([]float64, before+after)
	for d := before; d < len(u); d++ {
		u[d] = float64(d - before + 1)
	}
	return u
}
