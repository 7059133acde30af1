package store

import (
	"math"
)

// lattice is origin + code×step.
type lattice struct{ origin, step float64 }

func (l lattice) at(k int64) float64 {
	// The conversion keeps the product from being fused with the sum, which some processors would do and others not.
	return l.origin + float64(float64(k)*l.step)
}

// code returns the code of v and how many units in the last place v lies beside its lattice point.
func (l lattice) code(v float64) (k, ulp int64, ok bool) {
	r := math.Round((v - l.origin) / l.step)
	if !(math.Abs(r) < maxCode) {
		return 0, 0, false
	}
	k = int64(r)
	ulp = orderedBits(v) - orderedBits(l.at(k))
	return k, ulp, ulp <= maxULP && ulp >= -maxULP
}

// orderedBits maps floats to integers so that neighbours differ by 1.
func orderedBits(f float64) int64 {
	b := int64(math.Float64bits(f))
	return b ^ (b>>63)&math.MaxInt64
}

func fromOrderedBits(b int64) float64 {
	return math.Float64frombits(uint64(b ^ (b>>63)&math.MaxInt64))
}

// latticeSample is how many differences are looked at to find the step.
const latticeSample = 256

// findLattice looks for the step that all differences are multiples of, by Euclid's algorithm with a tolerance.
func findLattice(v []float64) (lattice, bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return lattice{}, false
		}
		lo, hi = min(lo, x), max(hi, x)
	}
	span := hi - lo
	tol := max(math.Abs(lo), math.Abs(hi)) * 1e-12
	step := 0.0
	for i := 1; i < min(len(v), latticeSample); i++ {
		step = floatGCD(step, math.Abs(v[i]-v[i-1]), tol)
	}
	// A step near the tolerance is rounding, not a lattice.
	if step < tol*16 || !(span/step < 1<<26) {
		return lattice{}, false
	}
	l := lattice{origin: lo, step: span / math.Round(span/step)}
	bad := 0
	for _, x := range v {
		if _, _, ok := l.code(x); !ok {
			if bad++; bad*maxException > len(v) {
				return lattice{}, false
			}
		}
	}
	return l, true
}

func floatGCD(a, b, tol float64) float64 {
	for range 64 {
		if b <= tol {
			return a
		}
		r := math.Mod(a, b)
		if b-r < tol {
			r = 0
		}
		a, b = b, r
	}
	return 0
}

func (c *coder) appendLattice(dst []byte, v []float64, l lattice) []byte {
	dst = append(dst, modeLattice)
	dst = appendFloat(dst, l.origin)
	dst = appendFloat(dst, l.step)
	k := c.codes(len(v))
	beside := map[int64]int64{}
	dst = appendCodes(dst, v, k, func(x float64) (int64, bool) {
		n, ulp, ok := l.code(x)
		if !ok {
			return 0, false
		}
		if known, seen := beside[n]; seen {
			return n, known == ulp
		}
		beside[n] = ulp
		return n, true
	})
	dst = c.appendInts(dst, k)
	ulps := make([]int64, 0, len(beside))
	firsts(k, func(code int64) { ulps = append(ulps, beside[code]) })
	return c.appendInts(dst, ulps)
}

// firsts calls f with each code where it first occurs.
func firsts(k []int64, f func(code int64)) {
	seen := map[int64]struct{}{}
	for i, code := range k {
		if i > 0 && code == k[i-1] {
			continue
		}
		if _, ok := seen[code]; !ok {
			seen[code] = struct{}{}
			f(code)
		}
	}
}

func readLattice(b []byte, dst []float64, l lattice) ([]byte, error) {
	odd, b, err := readExceptions(b, len(dst))
	if err != nil {
		return nil, err
	}
	codes := make([]int64, len(dst))
	if b, err = readInts(b, codes); err != nil {
		return nil, err
	}
	var order []int64
	firsts(codes, func(code int64) { order = append(order, code) })
	ulps := make([]int64, len(order))
	if b, err = readInts(b, ulps); err != nil {
		return nil, err
	}
	value := make(map[int64]float64, len(order))
	for i, code := range order {
		value[code] = fromOrderedBits(orderedBits(l.at(code)) + ulps[i])
	}
	for i, code := range codes {
		if i > 0 && code == codes[i-1] {
			dst[i] = dst[i-1]
			continue
		}
		dst[i] = value[code]
	}
	odd.put(dst)
	return b, nil
}
