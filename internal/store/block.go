package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"slices"
	"time"
)

const (
	blockVersion = 1
	// maxBlock is the most readings that one block may hold: it bounds what a decoder allocates.
	maxBlock = 1 << 16
	// day is the length of monotonic time that no block crosses, so that a search for a span knows how far back to look.
	day = 24 * time.Hour
)

// The optional columns, as bits of the block's second byte. An absent column holds the same value throughout: no span,
// no standard deviation (NaN), no count, good quality.
const (
	hasSpan = 1 << iota
	hasSD
	hasN
	hasQuality
	knownColumns = hasSpan | hasSD | hasN | hasQuality
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// sealCRC appends the CRC-32C of the key and of all bytes of b from start on. A block that stands under a wrong key fails
// its checksum.
func sealCRC(key, b []byte, start int) []byte {
	sum := crc32.Update(crc32.Checksum(key, castagnoli), castagnoli, b[start:])
	return binary.LittleEndian.AppendUint32(b, sum)
}

// openCRC checks and removes the checksum.
func openCRC(key, b []byte) ([]byte, error) {
	if len(b) < 5 {
		return nil, errShort
	}
	body := b[:len(b)-4]
	sum := crc32.Update(crc32.Checksum(key, castagnoli), castagnoli, body)
	if want := binary.LittleEndian.Uint32(b[len(b)-4:]); sum != want {
		return nil, fmt.Errorf("fails its checksum: %08x, and %08x is written", sum, want)
	}
	return body, nil
}

// appendBlock appends the block that holds rs: sorted, of one boot, at least one and at most maxBlock of them. It
// returns the divisor to hint next time.
func (c *coder) appendBlock(dst, key []byte, rs []rec, hint float64) ([]byte, float64) {
	start := len(dst)
	columns := columnsOf(rs)
	dst = append(dst, blockVersion, columns)
	dst = binary.AppendUvarint(dst, uint64(len(rs)))
	dst = binary.AppendUvarint(dst, uint64(rs[len(rs)-1].mono-rs[0].mono))
	dst = c.appendColumn(dst, rs, func(r *rec) int64 { return r.mono })
	dst = c.appendColumn(dst, rs, func(r *rec) int64 { return int64(r.seq) })
	dst, hint = c.appendValues(dst, rs, columns, hint)
	return sealCRC(key, dst, start), hint
}

// appendValues appends the columns behind those of time and sequence.
func (c *coder) appendValues(dst []byte, rs []rec, columns byte, hint float64) ([]byte, float64) {
	dst, hint = c.appendFloats(dst, floatColumn(rs, func(r *rec) float64 { return r.val }), hint)
	if columns&hasSpan != 0 {
		dst = c.appendColumn(dst, rs, func(r *rec) int64 { return r.span })
	}
	if columns&hasSD != 0 {
		dst, _ = c.appendFloats(dst, floatColumn(rs, func(r *rec) float64 { return r.sd }), 0)
	}
	if columns&hasN != 0 {
		dst = c.appendColumn(dst, rs, func(r *rec) int64 { return int64(r.n) })
	}
	if columns&hasQuality != 0 {
		dst = c.appendColumn(dst, rs, func(r *rec) int64 { return int64(r.q) })
	}
	return dst, hint
}

// quietNaN is the pattern that an absent standard deviation comes back as.
var quietNaN = math.Float64bits(math.NaN())

func columnsOf(rs []rec) (columns byte) {
	for i := range rs {
		r := &rs[i]
		if r.span != 0 {
			columns |= hasSpan
		}
		if math.Float64bits(r.sd) != quietNaN {
			columns |= hasSD
		}
		if r.n != 0 {
			columns |= hasN
		}
		if r.q != 0 {
			columns |= hasQuality
		}
	}
	return columns
}

func (c *coder) appendColumn(dst []byte, rs []rec, get func(*rec) int64) []byte {
	v := c.codes(len(rs))
	for i := range rs {
		v[i] = get(&rs[i])
	}
	return c.appendInts(dst, v)
}

func floatColumn(rs []rec, get func(*rec) float64) []float64 {
	v := make([]float64, len(rs))
	for i := range rs {
		v[i] = get(&rs[i])
	}
	return v
}

// blockHead is what a block tells before it is decoded.
type blockHead struct {
	columns byte
	n       int
	span    time.Duration // from the first reading to the last
	rest    []byte
}

func readHead(b []byte) (blockHead, error) {
	if len(b) < 2 {
		return blockHead{}, errShort
	}
	if b[0] != blockVersion {
		return blockHead{}, fmt.Errorf("is of version %d, and this program reads up to %d", b[0], blockVersion)
	}
	h := blockHead{columns: b[1]}
	if h.columns&^knownColumns != 0 {
		return blockHead{}, errors.New("has an unknown column")
	}
	n, size := binary.Uvarint(b[2:])
	if size <= 0 || n == 0 || n > maxBlock {
		return blockHead{}, fmt.Errorf("says that it holds %d readings, outside 1 to %d", n, maxBlock)
	}
	b = b[2+size:]
	span, size := binary.Uvarint(b)
	if size <= 0 || span >= uint64(day) {
		return blockHead{}, errors.New("is longer than a day")
	}
	h.n, h.span, h.rest = int(n), time.Duration(span), b[size:]
	return h, nil
}

// readBlock decodes a block that stands under key, and appends its readings to dst.
func readBlock(dst []rec, key, b []byte, boot uint32) ([]rec, error) {
	body, err := openCRC(key, b)
	if err != nil {
		return dst, err
	}
	return decodeBlock(dst, body, boot)
}

// decodeBlock is readBlock after the checksum.
func decodeBlock(dst []rec, body []byte, boot uint32) ([]rec, error) {
	h, err := readHead(body)
	if err != nil {
		return dst, err
	}
	start := len(dst)
	dst = slices.Grow(dst, h.n)[:start+h.n]
	rs := dst[start:]
	for i := range rs {
		rs[i] = rec{boot: boot, sd: math.NaN()}
	}
	if err := decodeColumns(rs, h); err != nil {
		return dst[:start], err
	}
	for i := 1; i < len(rs); i++ {
		if rs[i-1].compare(&rs[i]) >= 0 {
			return dst[:start], fmt.Errorf("is out of order at reading %d", i)
		}
	}
	if rs[0].mono < 0 || rs[len(rs)-1].mono-rs[0].mono != int64(h.span) || rs[0].day() != rs[len(rs)-1].day() {
		return dst[:start], errors.New("does not span what it says")
	}
	return dst, nil
}

func decodeColumns(rs []rec, h blockHead) (err error) {
	ints := make([]int64, h.n)
	b := h.rest
	if b, err = readInts(b, ints); err != nil {
		return fmt.Errorf("its column \"mono\" %w", err)
	}
	for i := range rs {
		rs[i].mono = ints[i]
	}
	if b, err = readInts(b, ints); err != nil {
		return fmt.Errorf("its column \"seq\" %w", err)
	}
	for i := range rs {
		rs[i].seq = uint64(ints[i])
	}
	if b, err = decodeValues(b, rs, h.columns); err != nil {
		return err
	}
	if len(b) != 0 {
		return fmt.Errorf("has %d bytes after its last column", len(b))
	}
	return nil
}

// decodeValues reads the columns behind those of time and sequence, and returns what follows them.
func decodeValues(b []byte, rs []rec, columns byte) ([]byte, error) {
	ints, floats := make([]int64, len(rs)), make([]float64, len(rs))
	column := func(name string, present bool, put func(r *rec, v int64)) (err error) {
		if !present {
			return nil
		}
		if b, err = readInts(b, ints); err != nil {
			return fmt.Errorf("its column %q %w", name, err)
		}
		for i := range rs {
			put(&rs[i], ints[i])
		}
		return nil
	}
	numbers := func(name string, present bool, put func(r *rec, v float64)) (err error) {
		if !present {
			return nil
		}
		if b, err = readFloats(b, floats); err != nil {
			return fmt.Errorf("its column %q %w", name, err)
		}
		for i := range rs {
			put(&rs[i], floats[i])
		}
		return nil
	}
	for _, err := range []error{
		numbers("value", true, func(r *rec, v float64) { r.val = v }),
		column("span", columns&hasSpan != 0, func(r *rec, v int64) { r.span = v }),
		numbers("sd", columns&hasSD != 0, func(r *rec, v float64) { r.sd = v }),
		column("n", columns&hasN != 0, func(r *rec, v int64) { r.n = uint32(v) }),
		column("quality", columns&hasQuality != 0, func(r *rec, v int64) { r.q = uint8(v) }),
	} {
		if err != nil {
			return nil, err
		}
	}
	return b, nil
}
