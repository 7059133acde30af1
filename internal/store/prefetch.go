package store

import "sync"

// prefetchers is how many pages are asked for at once.
const prefetchers = 16

// prefetch reads the children of a branch page side by side, and the first child of each that is a branch: the walk
// then finds them in the page cache. One after the other, each would wait for the card, and a record of many years has
// hundreds. What cannot be read is told by the walk.
func (w *pageWalk) prefetch(b []byte, count int) {
	ids := make(chan uint64)
	var readers sync.WaitGroup
	for range min(prefetchers, count) {
		readers.Go(func() {
			page := make([]byte, pageSize)
			for id := range ids {
				if w.fetch(id, page) && native.Uint16(page[8:]) == flagBranch {
					w.fetch(native.Uint64(page[pageHead+8:]), page)
				}
			}
		})
	}
	for i := range count {
		ids <- native.Uint64(b[pageHead+i*16+8:])
	}
	close(ids)
	readers.Wait()
}

func (w *pageWalk) fetch(id uint64, page []byte) bool {
	if id < 2 || id >= w.n {
		return false
	}
	_, err := w.f.ReadAt(page, int64(id)*pageSize)
	return err == nil
}
