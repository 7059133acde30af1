package store

import (
	"bytes"
	"cmp"
	"container/heap"
	"slices"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/reading"
)

// stretch is a sorted list of readings of one channel: what was open, or a block, decoded when its turn comes.
type stretch struct {
	ch   *channel
	at   rec // of the reading that is next; of a block that is not decoded, the place where it begins
	rs   []rec
	key  blockKey // of a block
	data []byte   // of a block that is not decoded
	err  error    // why there is no block
}

// merge gives the readings of one boot in order.
type merge struct {
	s          *Store
	boot       Boot
	first, end int64
	after      *rec
	until      rec
	queue      stretches
	last       rec
	lastID     uint32
	any        bool
}

type stretches []*stretch

func (q stretches) Len() int           { return len(q) }
func (q stretches) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q stretches) Less(i, j int) bool { return q[i].less(q[j]) }
func (q *stretches) Push(x any)        { *q = append(*q, x.(*stretch)) }
func (q *stretches) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}

// less orders by time, sequence and channel; a block that is not decoded comes before readings at the same place.
func (a *stretch) less(b *stretch) bool {
	if c := a.at.compare(&b.at); c != 0 {
		return c < 0
	}
	if (a.data != nil) != (b.data != nil) {
		return a.data != nil
	}
	return a.ch.id < b.ch.id
}

func (s *Store) newMerge(boot Boot, q ReadQuery, first, end int64) *merge {
	m := &merge{s: s, boot: boot, first: first, end: end}
	if boot.ID == q.After.Boot && q.After != (Cursor{}) {
		m.after = &rec{boot: boot.ID, mono: int64(q.After.Mono), seq: q.After.Seq}
	}
	// What is open must be copied before the first block is looked for: what is sealed in between is then seen twice,
	// and given once, where the other order would lose it.
	chans := s.snapshot(q.Channels, boot.ID, first, end, &m.queue)
	for _, ch := range chans {
		m.next(ch, blockKey{channel: ch.id, boot: boot.ID, mono: first / int64(day) * int64(day)}.bytes())
	}
	heap.Init(&m.queue)
	return m
}

// snapshot copies the open readings of a boot, and returns the channels that are asked for.
func (s *Store) snapshot(names []string, boot uint32, first, end int64, queue *stretches) []*channel {
	s.mu.Lock()
	defer s.mu.Unlock()
	var chans []*channel
	for _, ch := range s.byID {
		if len(names) > 0 && !slices.Contains(names, ch.name) {
			continue
		}
		chans = append(chans, ch)
		var open []rec
		ch.open.each(boot, first, end, func(r *rec) {
			if r.boot == boot && r.mono >= first && r.mono <= end {
				open = append(open, *r)
			}
		})
		if open = sorted(open); len(open) > 0 {
			*queue = append(*queue, &stretch{ch: ch, at: open[0], rs: open})
		}
	}
	slices.SortFunc(chans, func(a, b *channel) int { return cmp.Compare(a.id, b.id) })
	return chans
}

// next queues the first block of ch at or after key that reaches into the span.
func (m *merge) next(ch *channel, from []byte) {
	var found *stretch
	err := m.s.view(func(tx *bolt.Tx) error {
		c := tx.Bucket(bucketBlocks).Cursor()
		for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, from[:8]); k, v = c.Next() {
			key, ok := parseBlockKey(k)
			if !ok {
				continue
			}
			if key.mono > m.end {
				return nil
			}
			if h, err := readHead(v); err == nil && key.mono+int64(h.span) < m.first {
				continue
			}
			found = &stretch{ch: ch, at: rec{boot: key.boot, mono: key.mono}, key: key, data: bytes.Clone(v)}
			return nil
		}
		return nil
	})
	if err != nil {
		found = &stretch{ch: ch, at: rec{boot: m.boot.ID}, data: []byte{}, err: err}
	}
	if found != nil {
		m.queue = append(m.queue, found)
	}
}

// mergeChunk is how many readings are given between two looks at the context.
const mergeChunk = 1024

// chunk gives up to mergeChunk readings; it returns false when the caller has had enough.
func (m *merge) chunk(yield func(reading.Reading, error) bool) bool {
	for n := 0; n < mergeChunk && len(m.queue) > 0; n++ {
		top := m.queue[0]
		if top.data != nil {
			if err := m.decode(top); err != nil && !yield(reading.Reading{}, err) {
				return false
			}
			continue
		}
		r := top.rs[0]
		if !m.skip(&r, top.ch.id) && !yield(r.reading(top.ch.name, m.boot.Zero), nil) {
			return false
		}
		if top.rs = top.rs[1:]; len(top.rs) == 0 {
			heap.Pop(&m.queue)
		} else {
			top.at = top.rs[0]
			heap.Fix(&m.queue, 0)
		}
	}
	return true
}

// skip tells whether r is outside the span or was given already.
func (m *merge) skip(r *rec, id uint32) bool {
	if r.mono < m.first || r.mono > m.end || m.after != nil && r.compare(m.after) <= 0 || r.compare(&m.until) > 0 {
		return true
	}
	if m.any && m.lastID == id && m.last.compare(r) == 0 {
		return true
	}
	m.last, m.lastID, m.any = *r, id, true
	return false
}

// decode decodes the block at the head of the queue and queues the one that follows it.
func (m *merge) decode(top *stretch) error {
	if top.err != nil {
		heap.Pop(&m.queue)
		return top.err
	}
	key := top.key.bytes()
	rs, err := readBlock(nil, key, top.data, m.boot.ID)
	top.data = nil
	if err != nil {
		err = &DamageError{string(bucketBlocks), top.key.String() + ", " + top.ch.name, err}
		heap.Pop(&m.queue)
	} else {
		top.rs, top.at = rs, rs[0]
		heap.Fix(&m.queue, 0)
	}
	m.next(top.ch, append(key, 0))
	heap.Init(&m.queue)
	return err
}
