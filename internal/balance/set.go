package balance

import "math/bits"

// most is the largest number of ways that a set can hold. A shop file of the largest size has about twice as many
// machines, over all its collectors.
const most = 256

// set is a set of ways by their numbers.
type set [most / 64]uint64

func (s set) has(i int) bool { return s[i/64]>>(i%64)&1 == 1 }

func (s set) with(i int) set {
	s[i/64] |= 1 << (i % 64)
	return s
}

func (s set) without(i int) set {
	s[i/64] &^= 1 << (i % 64)
	return s
}

// in tells that every way of s is in t as well.
func (s set) in(t set) bool {
	for w := range s {
		if s[w]&^t[w] != 0 {
			return false
		}
	}
	return true
}

func (s set) size() int {
	n := 0
	for _, w := range s {
		n += bits.OnesCount64(w)
	}
	return n
}

// members lists the ways in rising order.
func (s set) members() []int {
	out := make([]int, 0, s.size())
	for w, word := range s {
		for ; word != 0; word &= word - 1 {
			out = append(out, 64*w+bits.TrailingZeros64(word))
		}
	}
	return out
}

// before orders sets as a reader would: by their first ways, then the second ones, and so on.
func (s set) before(t set) bool {
	for w := range s {
		if d := s[w] ^ t[w]; d != 0 {
			low := d & -d
			return s[w]&low != 0
		}
	}
	return false
}
