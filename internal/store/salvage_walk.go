package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
)

// salvageWalk goes over the pages of a damaged file as pageWalk does, but goes on behind damage.
type salvageWalk struct {
	found *salvaged
	f     io.ReaderAt
	n     uint64
	used  []bool
}

func newSalvageWalk(found *salvaged, f io.ReaderAt, pages uint64) *salvageWalk {
	w := &salvageWalk{found: found, f: f, n: pages, used: make([]bool, max(pages, 2))}
	w.used[0], w.used[1] = true, true
	return w
}

// page reads a page with its overflow and marks it; the error says why it is of no use. Nothing is marked of one that
// claims pages of another, so that it does not take them with it.
func (w *salvageWalk) page(id uint64) ([]byte, error) {
	if id < 2 || id >= w.n {
		return nil, fmt.Errorf("page %d is outside the file", id)
	}
	b := make([]byte, pageSize)
	if _, err := w.f.ReadAt(b, int64(id)*pageSize); err != nil {
		return nil, fmt.Errorf("page %d: %w", id, err)
	}
	over := uint64(native.Uint32(b[12:]))
	if got := native.Uint64(b); got != id || over >= w.n-id {
		return nil, fmt.Errorf("page %d says that it is page %d and goes on for %d of %d pages", id, got, over, w.n-id-1)
	}
	if slices.Contains(w.used[id:id+over+1], true) {
		return nil, fmt.Errorf("page %d is reached twice, or goes on over one that is", id)
	}
	if over > 0 {
		b = append(b, make([]byte, over*pageSize)...)
		if _, err := w.f.ReadAt(b, int64(id)*pageSize); err != nil {
			return nil, fmt.Errorf("page %d: %w", id, err)
		}
	}
	for i := id; i <= id+over; i++ {
		w.used[i] = true
	}
	return b, nil
}

// tree takes over what the pages from id down hold of a bucket between two keys; nil is the list of buckets. Its error
// is one of writing.
func (w *salvageWalk) tree(bucket []byte, id uint64, from, to []byte, depth int) error {
	b, err := w.page(id)
	if err == nil && depth > deepestTree {
		err = errors.New("lies deeper than a tree can be")
	}
	if err != nil {
		w.found.lose(bucket, from, to, err)
		return nil
	}
	return w.elements(bucket, b, from, to, depth)
}

// element is what a page says of one key.
type element struct {
	key, value []byte
	page       uint64 // of a branch
	isBucket   bool
}

// readElement reads element i of a page.
func readElement(b []byte, flags uint16, i int) (e element, ok bool) {
	at := pageHead + i*16
	if at+16 > len(b) {
		return e, false
	}
	b = b[at:]
	pos, size, value := uint64(native.Uint32(b)), uint64(native.Uint32(b[4:])), uint64(0)
	if flags == flagLeaf {
		e.isBucket = native.Uint32(b)&leafBucket != 0
		pos, size, value = uint64(native.Uint32(b[4:])), uint64(native.Uint32(b[8:])), uint64(native.Uint32(b[12:]))
	} else {
		e.page = native.Uint64(b[8:])
	}
	if pos+size+value > uint64(len(b)) {
		return e, false
	}
	e.key, e.value = b[pos:pos+size], b[pos+size:pos+size+value]
	return e, true
}

// elements takes over what one page holds. Of a page whose elements make no sense from one on, those before it are.
func (w *salvageWalk) elements(bucket, b, from, to []byte, depth int) error {
	flags, count := native.Uint16(b[8:]), int(native.Uint16(b[10:]))
	if flags != flagLeaf && flags != flagBranch {
		w.found.lose(bucket, from, to, fmt.Errorf("a page is of unknown kind %#x", flags))
		return nil
	}
	rest := lostRange{bucket, from, to}
	for i := range count {
		e, ok := readElement(b, flags, i)
		if !ok || !rest.holds(e.key) {
			w.found.lose(bucket, rest.from, to, fmt.Errorf("a page of bucket %q has element %d outside itself", bucket, i))
			return nil
		}
		end := to
		if next, ok := readElement(b, flags, i+1); ok && i+1 < count {
			end = next.key
		}
		if err := w.element(bucket, e, flags, end, depth); err != nil {
			return err
		}
		rest.from = append(bytes.Clone(e.key), 0)
	}
	return nil
}

// element takes over one element; end is where the next begins.
func (w *salvageWalk) element(bucket []byte, e element, flags uint16, end []byte, depth int) error {
	switch {
	case flags == flagBranch:
		return w.tree(bucket, e.page, e.key, end, depth+1)
	case !e.isBucket && bucket != nil:
		return w.found.take(bucket, e.key, e.value)
	case !e.isBucket || bucket != nil || len(e.value) < 16:
		w.found.lose(e.key, nil, nil, fmt.Errorf("bucket %q is not described", e.key))
		return nil
	}
	if root := native.Uint64(e.value); root != 0 {
		return w.tree(e.key, root, nil, nil, depth+1)
	}
	if len(e.value) < 16+pageHead {
		return nil
	}
	return w.elements(e.key, e.value[16:], nil, nil, depth+1)
}

// listed tells whether a list of buckets can be read to its end.
func (w *salvageWalk) listed(id uint64, depth int) error {
	b, err := w.page(id)
	if err != nil {
		return err
	}
	flags, count := native.Uint16(b[8:]), int(native.Uint16(b[10:]))
	if depth > deepestTree || count == 0 || flags != flagLeaf && flags != flagBranch {
		return fmt.Errorf("page %d is no list of buckets", id)
	}
	var last []byte
	for i := range count {
		e, ok := readElement(b, flags, i)
		if !ok || bytes.Compare(last, e.key) >= 0 && i > 0 || flags == flagLeaf && (!e.isBucket || len(e.value) < 16) {
			return fmt.Errorf("page %d does not list the buckets: element %d makes no sense", id, i)
		}
		if flags == flagBranch {
			if err := w.listed(e.page, depth+1); err != nil {
				return err
			}
		}
		last = e.key
	}
	return nil
}
