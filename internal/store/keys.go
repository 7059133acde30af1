package store

import (
	"encoding/binary"
	"fmt"
)

// The buckets. Their names and what they hold are drawn in doc.go.
var (
	bucketMeta      = []byte("meta")
	bucketChannels  = []byte("channels")
	bucketBoots     = []byte("boots")
	bucketOpen      = []byte("open")
	bucketBlocks    = []byte("blocks")
	bucketRuns      = []byte("runs")
	bucketJournal   = []byte("journal")
	bucketFindings  = []byte("findings")
	bucketAlarms    = []byte("alarms")
	bucketBaselines = []byte("baselines")
	bucketShops     = []byte("shops")
	bucketDamaged   = []byte("damaged")
	bucketOutbox    = []byte("outbox")

	allBuckets = [][]byte{bucketMeta, bucketChannels, bucketBoots, bucketOpen, bucketBlocks, levels[0].bucket,
		levels[1].bucket, levels[2].bucket, bucketRuns, bucketJournal, bucketFindings, bucketAlarms, bucketBaselines,
		bucketShops, bucketDamaged}
)

// blockKey places a raw block: all numbers big-endian, so that keys sort by channel, boot and time.
type blockKey struct {
	channel, boot uint32
	mono          int64  // of the first reading, ns
	serial        uint32 // tells blocks apart that begin at the same time
}

func (k blockKey) bytes() []byte {
	b := binary.BigEndian.AppendUint32(make([]byte, 0, 20), k.channel)
	b = binary.BigEndian.AppendUint32(b, k.boot)
	b = binary.BigEndian.AppendUint64(b, uint64(k.mono))
	return binary.BigEndian.AppendUint32(b, k.serial)
}

func parseBlockKey(b []byte) (blockKey, bool) {
	if len(b) != 20 {
		return blockKey{}, false
	}
	k := blockKey{binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:]), int64(binary.BigEndian.Uint64(b[8:])),
		binary.BigEndian.Uint32(b[16:])}
	return k, k.mono >= 0
}

func (k blockKey) String() string {
	return fmt.Sprintf("channel %d, boot %d, %d ns, serial %d", k.channel, k.boot, k.mono, k.serial)
}

// rollKey places a block of roll-ups: one for each period of its level.
type rollKey struct{ channel, boot, period uint32 }

func (k rollKey) bytes() []byte {
	b := binary.BigEndian.AppendUint32(make([]byte, 0, 12), k.channel)
	b = binary.BigEndian.AppendUint32(b, k.boot)
	return binary.BigEndian.AppendUint32(b, k.period)
}

func parseRollKey(b []byte) (rollKey, bool) {
	if len(b) != 12 {
		return rollKey{}, false
	}
	return rollKey{binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:]), binary.BigEndian.Uint32(b[8:])}, true
}

func (k rollKey) String() string {
	return fmt.Sprintf("channel %d, boot %d, period %d", k.channel, k.boot, k.period)
}

func key32(v uint32) []byte { return binary.BigEndian.AppendUint32(nil, v) }
func key64(v uint64) []byte { return binary.BigEndian.AppendUint64(nil, v) }
