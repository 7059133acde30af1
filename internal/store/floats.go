package store

import (
	"encoding/binary"
	"errors"
	"math"
	"math/bits"
)

// A column of floating-point numbers is
//
//	mode u8 | body
//
// Every number comes back bit for bit. Mode scaled is for what a sensor counts: value = code/divisor, with
// (divisor uvarint, exceptions, codes as integers). Mode lattice is for counts with an offset or a factor that is no
// whole divisor: value = origin + code×step, moved by some units in the last place, the same for each occurrence of a
// code: (origin f64, step f64, exceptions, codes, then the units of each code in the order in which they first occur).
// Mode xor is for everything else: each number XOR the one before it.
// Exceptions are (count uvarint, then (gap uvarint, f64) each): numbers that fit no code, such as "not known".
const (
	modeScaled  = 0
	modeLattice = 1
	modeXOR     = 2
)

// divisors are tried in this order. The tenths are for decimal numbers, the sixties for the counts per pascal of
// differential-pressure chips (60, 240, 1200 and so on) and for means over whole numbers of them.
var divisors = [...]float64{1, 10, 100, 60, 240, 1000, 120, 20, 600, 1200, 2400, 1e4, 6000, 1e5, 1e6}

const (
	maxCode      = 1 << 50 // so that code/divisor and its inverse are exact in float64
	maxException = 16      // one number in so many may be an exception
	maxULP       = 64      // further from its lattice point than this, a number is an exception
)

func appendFloat(dst []byte, f float64) []byte {
	return binary.LittleEndian.AppendUint64(dst, math.Float64bits(f))
}

func floatAt(b []byte) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(b)) }

// appendFloats appends the column v. hint is the divisor that served last time, 0 for none; it returns the one to
// hand in next.
func (c *coder) appendFloats(dst []byte, v []float64, hint float64) ([]byte, float64) {
	if hint != 0 && fits(v, hint) {
		return c.appendScaled(dst, v, hint), hint
	}
	for _, d := range divisors {
		if d != hint && fits(v, d) {
			return c.appendScaled(dst, v, d), d
		}
	}
	if l, ok := findLattice(v); ok {
		return c.appendLattice(dst, v, l), 0
	}
	return appendXOR(append(dst, modeXOR), v), 0
}

// scaledCode returns the code of v at divisor d, and whether it gives v back.
func scaledCode(v, d float64) (int64, bool) {
	k := math.Round(v * d)
	if !(math.Abs(k) < maxCode) {
		return 0, false
	}
	n := int64(k)
	return n, math.Float64bits(float64(n)/d) == math.Float64bits(v) // −0 fails here
}

func fits(v []float64, d float64) bool {
	bad := 0
	for _, x := range v {
		if _, ok := scaledCode(x, d); !ok {
			if bad++; bad*maxException > len(v) {
				return false
			}
		}
	}
	return true
}

func (c *coder) appendScaled(dst []byte, v []float64, d float64) []byte {
	dst = append(dst, modeScaled)
	dst = binary.AppendUvarint(dst, uint64(d))
	k := c.codes(len(v))
	dst = appendCodes(dst, v, k, func(x float64) (int64, bool) { return scaledCode(x, d) })
	return c.appendInts(dst, k)
}

func (c *coder) codes(n int) []int64 {
	if cap(c.ints) < n {
		c.ints = make([]int64, n)
	}
	return c.ints[:n]
}

// appendCodes fills k and appends the exceptions, whose code repeats the one before.
func appendCodes(dst []byte, v []float64, k []int64, code func(float64) (int64, bool)) []byte {
	var odd []int
	last := int64(0)
	for i, x := range v {
		n, ok := code(x)
		if ok {
			last = n
		} else {
			odd = append(odd, i)
		}
		k[i] = last
	}
	dst = binary.AppendUvarint(dst, uint64(len(odd)))
	at := 0
	for _, i := range odd {
		dst = binary.AppendUvarint(dst, uint64(i-at))
		dst = appendFloat(dst, v[i])
		at = i
	}
	return dst
}

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

// appendXOR writes (bytes uvarint, bits): the first number whole; then for each a 0 if it is the same, else 1, 6 bits
// for the number of leading zeros of the difference, 6 for its length−1, and the difference.
func appendXOR(dst []byte, v []float64) []byte {
	var w bitWriter
	last := math.Float64bits(v[0])
	w.write(last, 64)
	for _, f := range v[1:] {
		b := math.Float64bits(f)
		x := b ^ last
		last = b
		if x == 0 {
			w.write(0, 1)
			continue
		}
		lead, trail := uint(bits.LeadingZeros64(x)), uint(bits.TrailingZeros64(x))
		size := 64 - lead - trail
		w.write(1<<12|uint64(lead)<<6|uint64(size-1), 13)
		w.write(x>>trail, size)
	}
	b := w.flush()
	dst = binary.AppendUvarint(dst, uint64(len(b)))
	return append(dst, b...)
}

// readFloats fills dst and returns what follows the column.
func readFloats(b []byte, dst []float64) (rest []byte, err error) {
	if len(b) == 0 || len(dst) == 0 {
		return nil, errShort
	}
	mode := b[0]
	b = b[1:]
	switch mode {
	case modeScaled:
		d, n := binary.Uvarint(b)
		if n <= 0 || d == 0 || d >= maxCode {
			return nil, errors.New("has no valid divisor")
		}
		return readScaled(b[n:], dst, float64(d))
	case modeLattice:
		if len(b) < 16 {
			return nil, errShort
		}
		return readLattice(b[16:], dst, lattice{origin: floatAt(b), step: floatAt(b[8:])})
	case modeXOR:
		return readXOR(b, dst)
	}
	return nil, errors.New("has an unknown coding")
}

func readScaled(b []byte, dst []float64, d float64) ([]byte, error) {
	odd, b, err := readExceptions(b, len(dst))
	if err != nil {
		return nil, err
	}
	codes := make([]int64, len(dst))
	if b, err = readInts(b, codes); err != nil {
		return nil, err
	}
	for i, k := range codes {
		dst[i] = float64(k) / d
	}
	odd.put(dst)
	return b, nil
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

// exceptions are numbers that stand beside the codes.
type exceptions struct {
	at []int
	v  []float64
}

func (e exceptions) put(dst []float64) {
	for i, at := range e.at {
		dst[at] = e.v[i]
	}
}

func readExceptions(b []byte, limit int) (e exceptions, rest []byte, err error) {
	count, n := binary.Uvarint(b)
	if n <= 0 || count > uint64(limit) {
		return e, nil, errors.New("has more exceptions than numbers")
	}
	b = b[n:]
	at := uint64(0)
	for range count {
		gap, n := binary.Uvarint(b)
		if n <= 0 || len(b) < n+8 {
			return e, nil, errShort
		}
		at += gap
		if gap > uint64(limit) || at >= uint64(limit) {
			return e, nil, errors.New("has an exception outside the column")
		}
		e.at, e.v = append(e.at, int(at)), append(e.v, floatAt(b[n:]))
		b = b[n+8:]
	}
	return e, b, nil
}

func readXOR(b []byte, dst []float64) ([]byte, error) {
	size, n := binary.Uvarint(b)
	if n <= 0 || size > uint64(len(b)-n) {
		return nil, errShort
	}
	in := bitReader{b: b[n : n+int(size)]}
	last := in.read(64)
	dst[0] = math.Float64frombits(last)
	for i := 1; i < len(dst); i++ {
		if in.read(1) == 1 {
			lead, count := uint(in.read(6)), uint(in.read(6))+1
			if lead+count > 64 {
				return nil, errors.New("has a difference longer than a number")
			}
			last ^= in.read(count) << (64 - lead - count)
		}
		dst[i] = math.Float64frombits(last)
	}
	if in.short {
		return nil, errShort
	}
	return b[n+int(size):], nil
}
