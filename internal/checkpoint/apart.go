package checkpoint

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
)

// extent is a place and, of a slice, how many of its elements are seen.
type extent struct {
	place
	n int
}

// bytes returns how much memory an extent takes; 0 for a map, which is in nobody's midst.
func (e extent) bytes() uintptr {
	switch e.typ.Kind() {
	case reflect.Slice:
		return uintptr(e.n) * e.typ.Elem().Size()
	case reflect.Pointer:
		return e.typ.Elem().Size()
	}
	return 0
}

// apart returns an error if two of what is shared overlap without being one, as a pointer to an element of a slice does:
// they would come back as two things, of which one would not see what is done to the other.
func apart(seen map[extent]uint64) error {
	all := make([]extent, 0, len(seen))
	for e := range seen {
		if e.bytes() > 0 {
			all = append(all, e)
		}
	}
	slices.SortFunc(all, func(a, b extent) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(b.bytes(), a.bytes()))
	})
	var last extent
	for _, e := range all {
		if last.typ != nil && e.at < last.at+last.bytes() {
			return fmt.Errorf("a %s lies in the midst of a %s, and could not be put back there", e.typ, last.typ)
		}
		last = e
	}
	return nil
}
