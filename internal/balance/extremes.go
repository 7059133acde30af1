package balance

import (
	"cmp"
	"slices"
)

// maximal picks the sets to which nothing can be added: those that are in no other of them. The largest come first.
func maximal(sets []set) []set {
	var out []set
	for _, s := range bySize(sets, -1) {
		if !slices.ContainsFunc(out, s.in) {
			out = append(out, s)
		}
	}
	return out
}

// minimal picks the sets from which nothing can be taken: those in which there is no other of them. The smallest come
// first.
func minimal(sets []set) []set {
	var out []set
	for _, s := range bySize(sets, 1) {
		if !slices.ContainsFunc(out, func(t set) bool { return t.in(s) }) {
			out = append(out, s)
		}
	}
	return out
}

// bySize orders sets by size, rising with 1 and falling with -1, and those of a size as a reader would.
func bySize(sets []set, way int) []set {
	out := slices.Clone(sets)
	slices.SortFunc(out, func(a, b set) int {
		switch {
		case a == b:
			return 0
		case a.size() != b.size():
			return way * cmp.Compare(a.size(), b.size())
		case a.before(b):
			return -1
		}
		return 1
	})
	return slices.Compact(out)
}
