package nexttest

import "math"

// points is how many points stand for a suspect's readings, each with its mirror image; rough is enough where tests
// are only sorted out.
const (
	points = 64
	rough  = 16
)

// primes give the generators of the lattice: as many channels as a collector can have.
var primes = [...]float64{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37}

// lattice returns twice as many points of the standard normal distribution in n dimensions, without chance: the fractional parts of the
// multiples of the roots of the primes fill the unit cube evenly (Richtmyer 1951; Niederreiter 1978, Quasi-Monte Carlo
// methods and pseudo-random numbers, Bulletin of the AMS 84, 957, from memory), each taken through the normal quantile,
// with its mirror image, so that every odd moment is nought as it should be.
func lattice(n, points int) [][]float64 {
	out := make([][]float64, 0, 2*points)
	for i := range points {
		p, q := make([]float64, n), make([]float64, n)
		for j := range n {
			_, u := math.Modf((float64(i) + 0.5) * math.Sqrt(primes[j%len(primes)]))
			p[j] = math.Sqrt2 * math.Erfinv(2*u-1)
			q[j] = -p[j]
		}
		out = append(out, p, q)
	}
	return out
}
