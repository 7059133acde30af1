package store

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"slices"
)

// bbolt's own test of its pages runs in a goroutine of its own, where a fault on a page number that points nowhere
// brings the process down, and it believes lengths. So this one reads the file itself, by the layout of bbolt's file
// version 2, in the machine's own byte order:
//
//	page    id u64 | flags u16 | count u16 | overflow u32 | elements…
//	meta    (after the page's head) magic u32 | version u32 | page size u32 | flags u32 | root u64 | sequence u64 |
//	        list of free pages u64 | number of pages u64 | transaction u64 | FNV-1a u64
//	branch  position u32 | key size u32 | page u64
//	leaf    flags u32 | position u32 | key size u32 | value size u32
//	bucket  (value of a leaf element with flag 1) root u64 | sequence u64 | page if root is 0
//
// Positions count from the element.
const (
	pageHead    = 16
	flagBranch  = 0x01
	flagLeaf    = 0x02
	flagFree    = 0x10
	leafBucket  = 0x01
	deepestTree = 64 // no tree of pages of 4 KiB is deeper; a deeper one goes round in a circle
)

var native = binary.NativeEndian

// pageWalk marks every page that can be reached.
type pageWalk struct {
	f      io.ReaderAt
	n      uint64 // pages in use, those at the end that are not are not looked at
	used   []bool
	quick  bool // leaves below the list of buckets are marked and not read
	report func(format string, args ...any)
}

// metaPage is what a sound meta page says.
type metaPage struct{ root, free, pages, tx uint64 }

// readMeta returns the newest sound meta page.
func readMeta(f io.ReaderAt) (newest metaPage, err error) {
	metas, err := readMetas(f)
	if err != nil {
		return newest, err
	}
	return metas[0], nil
}

// readMetas returns the sound meta pages, at least one, the newest first. What the older one leads to is the state before
// the last commit: no page of that has been written on since.
func readMetas(f io.ReaderAt) (metas []metaPage, err error) {
	for i := range int64(2) {
		b := make([]byte, pageHead+64)
		if _, err := f.ReadAt(b, i*pageSize); err != nil {
			return nil, fmt.Errorf("read page %d: %w", i, err)
		}
		b = b[pageHead:]
		sum := fnv.New64a()
		_, _ = sum.Write(b[:56])
		if sum.Sum64() == native.Uint64(b[56:]) {
			metas = append(metas, metaPage{root: native.Uint64(b[16:]), free: native.Uint64(b[32:]), pages: native.Uint64(b[40:]),
				tx: native.Uint64(b[48:])})
		}
	}
	if len(metas) == 0 {
		return nil, errors.New("neither meta page is sound")
	}
	slices.SortFunc(metas, func(a, b metaPage) int { return cmp.Compare(b.tx, a.tx) })
	return metas, nil
}

// walkPages tests that each page of the file is reachable once or free, and reports what is not so.
func walkPages(f io.ReaderAt, size int64, report func(format string, args ...any)) {
	m, err := readMeta(f)
	if err != nil {
		report("%v", err)
		return
	}
	if m.pages > uint64(size)/pageSize {
		report("the file has %d pages and should have %d", size/pageSize, m.pages)
		return
	}
	w := &pageWalk{f: f, n: m.pages, used: make([]bool, m.pages), report: report}
	w.used[0], w.used[1] = true, true
	w.tree(m.root, 0)
	w.freeList(m.free)
	for id, used := range w.used {
		if !used {
			report("page %d is neither used nor free", id)
		}
	}
}

// quickWalk tests what bbolt would follow blindly: that no page number points outside the file or round in a circle. It
// reads branch pages alone, so it takes little longer for a file of many years.
func quickWalk(f io.ReaderAt, size int64) (err error) {
	report := func(format string, args ...any) {
		if err == nil {
			err = fmt.Errorf(format, args...)
		}
	}
	m, metaErr := readMeta(f)
	if metaErr != nil {
		return metaErr
	}
	if m.pages > uint64(size)/pageSize {
		return fmt.Errorf("it has %d pages and should have %d", size/pageSize, m.pages)
	}
	w := &pageWalk{f: f, n: m.pages, used: make([]bool, m.pages), quick: true, report: report}
	w.used[0], w.used[1] = true, true
	w.tree(m.root, 0)
	return err
}

// leaves marks the children of a branch page whose first child is a leaf, and tells whether it is.
func (w *pageWalk) leaves(b []byte, count int) bool {
	head := make([]byte, pageHead)
	for i := range count {
		id := native.Uint64(b[pageHead+i*16+8:])
		if id < 2 || id >= w.n || w.used[id] {
			return false // tree says what is wrong
		}
		if i == 0 {
			if _, err := w.f.ReadAt(head, int64(id)*pageSize); err != nil || native.Uint16(head[8:]) != flagLeaf {
				return false
			}
		}
	}
	for i := range count {
		w.used[native.Uint64(b[pageHead+i*16+8:])] = true
	}
	return true
}

// page reads a page with its overflow and marks it.
func (w *pageWalk) page(id uint64) (b []byte, ok bool) {
	if id < 2 || id >= w.n {
		w.report("page %d is outside the file", id)
		return nil, false
	}
	head := make([]byte, pageHead)
	if _, err := w.f.ReadAt(head, int64(id)*pageSize); err != nil {
		w.report("page %d: %v", id, err)
		return nil, false
	}
	over := uint64(native.Uint32(head[12:]))
	if got := native.Uint64(head); got != id || over >= w.n-id {
		w.report("page %d says that it is page %d and goes on for %d of %d pages", id, got, over, w.n-id-1)
		return nil, false
	}
	for i := id; i <= id+over; i++ {
		if w.used[i] {
			w.report("page %d is reached twice", i)
			return nil, false
		}
		w.used[i] = true
	}
	b = make([]byte, (over+1)*pageSize)
	if _, err := w.f.ReadAt(b, int64(id)*pageSize); err != nil {
		w.report("page %d: %v", id, err)
		return nil, false
	}
	return b, true
}

// tree walks the pages from id down; depth 0 is the root of the list of buckets.
func (w *pageWalk) tree(id uint64, depth int) {
	if depth > deepestTree {
		w.report("page %d lies deeper than a tree can be", id)
		return
	}
	b, ok := w.page(id)
	if !ok {
		return
	}
	if err := w.elements(b, depth); err != nil {
		w.report("page %d %v", id, err)
	}
}

// elements tests a page's elements, and walks what they point to.
func (w *pageWalk) elements(b []byte, depth int) error {
	flags, count := native.Uint16(b[8:]), int(native.Uint16(b[10:]))
	if flags != flagBranch && flags != flagLeaf {
		return fmt.Errorf("is of unknown kind %#x", flags)
	}
	if pageHead+count*pageHead > len(b) {
		return fmt.Errorf("is too short for %d elements", count)
	}
	if flags == flagBranch && count == 0 {
		return errors.New("is a branch to nowhere")
	}
	if w.quick && flags == flagBranch && depth > 0 && w.leaves(b, count) {
		return nil
	}
	if w.quick && flags == flagBranch {
		w.prefetch(b, count)
	}
	var last []byte
	for i := range count {
		e := b[pageHead+i*16:]
		at, size, value := native.Uint32(e), native.Uint32(e[4:]), uint32(0)
		if flags == flagLeaf {
			at, size, value = native.Uint32(e[4:]), native.Uint32(e[8:]), native.Uint32(e[12:])
		}
		if uint64(at)+uint64(size)+uint64(value) > uint64(len(e)) {
			return fmt.Errorf("has element %d outside itself", i)
		}
		key := e[at : at+size]
		if i > 0 && bytes.Compare(last, key) >= 0 {
			return fmt.Errorf("has key %x after key %x", key, last)
		}
		last = key
		switch {
		case flags == flagBranch:
			w.tree(native.Uint64(e[8:]), depth+1)
		case native.Uint32(e)&leafBucket != 0:
			if err := w.bucket(e[at+size:at+size+value], depth); err != nil {
				return fmt.Errorf("holds bucket %q, which %w", key, err)
			}
		}
	}
	return nil
}

func (w *pageWalk) bucket(v []byte, depth int) error {
	if len(v) < 16 {
		return errShort
	}
	if root := native.Uint64(v); root != 0 {
		w.tree(root, depth+1)
		return nil
	}
	if v = v[16:]; len(v) < pageHead || depth > deepestTree {
		return errShort
	}
	if kind := native.Uint16(v[8:]); kind != flagLeaf { // bbolt follows a branch there round and round
		return fmt.Errorf("has in itself a page of kind %#x and not a leaf", kind)
	}
	return w.elements(v, depth+1)
}

// freeList marks the pages that are free.
func (w *pageWalk) freeList(id uint64) {
	b, ok := w.page(id)
	if !ok {
		return
	}
	count, ids := uint64(native.Uint16(b[10:])), b[pageHead:]
	if native.Uint16(b[8:]) != flagFree {
		w.report("page %d should list the free pages and is of kind %#x", id, native.Uint16(b[8:]))
		return
	}
	if count == 0xffff { // too many for 16 bits: the first number counts them
		count, ids = native.Uint64(ids), ids[8:]
	}
	if count > uint64(len(ids)/8) {
		w.report("page %d is too short for %d free pages", id, count)
		return
	}
	for i := range count {
		free := native.Uint64(ids[i*8:])
		if free < 2 || free >= w.n || w.used[free] {
			w.report("page %d is listed as free, and is used or outside the file", free)
			continue
		}
		w.used[free] = true
	}
}
