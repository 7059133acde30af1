package store

import (
	"bytes"
)

// strays takes over what lies on leaves that no branch leads to and that are not free: those below damaged branches.
// Without a sound list of free pages nobody can tell them from what was let go of long ago.
func (w *salvageWalk) strays(free uint64) error {
	sound := true
	list := &pageWalk{f: w.f, n: w.n, used: w.used, report: func(string, ...any) { sound = false }}
	if list.freeList(free); !sound {
		return nil
	}
	lost := w.found.lost
	for id := uint64(2); id < w.n; id++ {
		if w.used[id] {
			continue
		}
		b, err := w.page(id)
		if err != nil || native.Uint16(b[8:]) != flagLeaf {
			continue
		}
		if err := w.stray(b, lost); err != nil {
			return err
		}
	}
	return nil
}

// stray takes over a leaf that was found by itself, if what it holds can only be of one bucket that has lost some.
func (w *salvageWalk) stray(b []byte, lost []lostRange) error {
	for i := range int(native.Uint16(b[10:])) {
		e, ok := readElement(b, flagLeaf, i)
		if !ok || e.isBucket {
			return nil
		}
		bucket, ok := ownerOf(e, lost)
		if !ok {
			continue
		}
		if err := w.found.take(bucket, e.key, e.value); err != nil {
			return err
		}
	}
	return nil
}

// of tells whether keys of a bucket may be among those that are lost. Where the list of buckets is lost, any bucket's
// are; but anything would read as one of those that take anything, and so nothing is given to them then.
func (l lostRange) of(bucket []byte) bool {
	if l.bucket == nil {
		return !bytes.Equal(bucket, bucketMeta) && !bytes.Equal(bucket, bucketDamaged)
	}
	return bytes.Equal(l.bucket, bucket)
}

// ownerOf finds the one bucket that lost a key like this and whose values read like this.
func ownerOf(e element, lost []lostRange) (owner []byte, ok bool) {
	for _, bucket := range allBuckets {
		misses := false
		for _, l := range lost {
			misses = misses || l.of(bucket) && l.holds(e.key)
		}
		if !misses || soundEntry(bucket, e.key, e.value) != nil {
			continue
		}
		if owner != nil {
			return nil, false
		}
		owner = bucket
	}
	return owner, owner != nil
}
