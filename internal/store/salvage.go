package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"
)

// salvaged is what was found in a damaged file, and what was not.
type salvaged struct {
	w     *rewriter
	knows *formats
	lost  []lostRange
	keys  int   // taken over
	unfit int   // keys whose value could not be read; they are kept in the bucket damaged
	first error // why something was lost
	older error // why the state before the last commit was taken; nil: it was not
}

// salvage makes a new file of what can be read of the one at path, and puts it in its place. The damaged file is set
// aside and never written to.
func salvage(path string, opt Options, damage error) (Notice, error) {
	aside, err := asideName(path, "damaged")
	if err != nil {
		return Notice{}, fmt.Errorf("%w; %w", damage, err)
	}
	found, err := salvageInto(path, opt)
	if err == nil {
		err = putInPlace(newName(path), path, aside)
	}
	if err != nil {
		return Notice{}, fmt.Errorf("%w; what can be salvaged could not be written: %w; the file is as it was", damage, err)
	}
	return Notice{SetAside: aside, Damaged: true, Text: fmt.Sprintf("%v; it was set aside as %s and a new store was begun%s", damage,
		aside, found)}, nil
}

// String tells what is in the new store, as the end of a sentence.
func (f *salvaged) String() string {
	if f.keys == 0 {
		return ": nothing could be salvaged"
	}
	text := fmt.Sprintf(" with what could be salvaged, which is %d blocks and records", f.keys)
	if f.unfit > 0 {
		text += fmt.Sprintf("; %d more could not be read", f.unfit)
	}
	if f.older != nil {
		text += fmt.Sprintf("; what was written last is missing (%v)", f.older)
	}
	if len(f.lost) > 0 {
		text += fmt.Sprintf("; in %d places, some may be missing (%v)", len(f.lost), f.first)
	}
	return text
}

// salvageInto fills a new file and closes it.
func salvageInto(path string, opt Options) (*salvaged, error) {
	w, err := newRewriter(path, *opt.bounds)
	if err != nil {
		return nil, err
	}
	f := &salvaged{w: w, knows: opt.formats}
	if err = f.collect(path); err == nil {
		err = f.mend()
	}
	if err != nil {
		w.drop()
		return nil, err
	}
	return f, w.db.Close()
}

// collect takes over every key that can be reached from a sound meta page, and then those of pages that are neither free
// nor reached: a branch that led to them is damaged.
func (f *salvaged) collect(path string) error {
	in, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }() // nothing was written
	info, err := in.Stat()
	if err != nil {
		return err
	}
	metas, err := readMetas(in)
	if err != nil {
		f.first = err
		return nil // there is nothing to begin with
	}
	begin := func(m metaPage) *salvageWalk {
		return newSalvageWalk(f, in, min(m.pages, uint64(info.Size())/pageSize))
	}
	m := metas[0]
	// The list of buckets is written with every commit, and everything hangs on it. That of the commit before is still there.
	if err := begin(m).listed(m.root, 0); err != nil && len(metas) > 1 && begin(metas[1]).listed(metas[1].root, 0) == nil {
		m, f.older = metas[1], err
	}
	walk := begin(m)
	if err := walk.tree(nil, m.root, nil, nil, 0); err != nil {
		return err
	}
	if len(f.lost) > 0 {
		return walk.strays(m.free)
	}
	return nil
}

// take takes over one key if its value is sound, and keeps it aside if not.
func (f *salvaged) take(bucket, k, v []byte) error {
	if bytes.Equal(bucket, bucketMeta) && string(k) == "format" {
		if err := f.knows.check("it", v); errors.Is(err, ErrNewer) {
			return err // who knows what is in it
		}
	}
	if !isBucket(bucket) {
		f.unfit++
		return nil
	}
	if err := soundEntry(bucket, k, v); err != nil {
		f.unfit++
		f.lose(bucket, k, append(bytes.Clone(k), 0), fmt.Errorf("bucket %q, key %x: %w", bucket, k, err))
		return f.w.put(bucketDamaged, damagedKey(bucket, k), v)
	}
	f.keys++
	return f.w.put(bucket, k, v)
}

// lose notes that keys may be lost.
func (f *salvaged) lose(bucket, from, to []byte, why error) {
	if bucket == nil { // any of any bucket
		from, to = nil, nil
	}
	f.lost = append(f.lost, lostRange{bytes.Clone(bucket), bytes.Clone(from), bytes.Clone(to)})
	if f.first == nil {
		f.first = why
	}
}
