package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
)

// A piece is what one commit wrote of all channels. Its size decides how many pages a commit touches, so what its parts
// have in common is written once. After its version it is, for each channel, boot and day of it,
//
//	channel uvarint | columns u8 | [boot uvarint] | [number uvarint | mono ints] | seq ints | value floats | [the others]
//
// and a CRC-32C at the end. Boot, and number with times, are absent where they are those of the part before, which bits
// 6 and 7 of the columns say. Sequences count from the first one of the part before. A piece of version 1, which is
// read for ever, held (u32 channel, u32 boot, mono uvarint, size uvarint, block)… instead.
const (
	bootBefore  = 1 << 6
	timesBefore = 1 << 7
)

// appendPart appends readings that may share a block, which follow those of the part before.
func (c *coder) appendPart(dst []byte, channel uint32, rs, before []rec, hint float64) ([]byte, float64) {
	columns := columnsOf(rs)
	base := uint64(0)
	if len(before) > 0 {
		base = before[0].seq
		if rs[0].boot == before[0].boot {
			columns |= bootBefore
		}
		if slices.EqualFunc(rs, before, func(a, b rec) bool { return a.mono == b.mono }) {
			columns |= timesBefore
		}
	}
	dst = append(binary.AppendUvarint(dst, uint64(channel)), columns)
	if columns&bootBefore == 0 {
		dst = binary.AppendUvarint(dst, uint64(rs[0].boot))
	}
	if columns&timesBefore == 0 {
		dst = binary.AppendUvarint(dst, uint64(len(rs)))
		dst = c.appendColumn(dst, rs, func(r *rec) int64 { return r.mono })
	}
	dst = c.appendColumn(dst, rs, func(r *rec) int64 { return int64(r.seq - base) })
	return c.appendValues(dst, rs, columns, hint)
}

// readPiece decodes a piece and hands over its parts one at a time.
func readPiece(key, v []byte, each func(blockKey, []rec) error) error {
	b, err := openCRC(key, v)
	if err != nil {
		return err
	}
	switch b[0] {
	case 1:
		return readPiece1(b[1:], each)
	case pieceVersion:
	default:
		return fmt.Errorf("is of version %d, and this program reads up to %d", b[0], pieceVersion)
	}
	var before []rec
	for b = b[1:]; len(b) > 0; {
		channel, rs, rest, err := readPart(b, before)
		if err != nil {
			return fmt.Errorf("channel %d: %w", channel, err)
		}
		if err := each(blockKey{channel: channel, boot: rs[0].boot, mono: rs[0].mono}, rs); err != nil {
			return err
		}
		before, b = rs, rest
	}
	return nil
}

func readPart(b []byte, before []rec) (channel uint32, rs []rec, rest []byte, err error) {
	id, n := binary.Uvarint(b)
	if n <= 0 || id > math.MaxUint32 || len(b) <= n {
		return 0, nil, nil, errShort
	}
	channel = uint32(id)
	columns := b[n]
	b = b[n+1:]
	if columns&^(knownColumns|bootBefore|timesBefore) != 0 {
		return channel, nil, nil, errors.New("has an unknown column")
	}
	if columns&(bootBefore|timesBefore) != 0 && len(before) == 0 {
		return channel, nil, nil, errors.New("refers to a part before the first")
	}
	if rs, b, err = readTimes(b, columns, before); err != nil {
		return channel, nil, nil, err
	}
	seqs := make([]int64, len(rs))
	if b, err = readInts(b, seqs); err != nil {
		return channel, nil, nil, fmt.Errorf("its column \"seq\" %w", err)
	}
	for i := range rs {
		rs[i].seq = uint64(seqs[i])
		if len(before) > 0 {
			rs[i].seq += before[0].seq
		}
	}
	if b, err = decodeValues(b, rs, columns); err != nil {
		return channel, nil, nil, err
	}
	return channel, rs, b, checkOrder(rs)
}

// readTimes makes the readings of a part, with their boot and times.
func readTimes(b []byte, columns byte, before []rec) (rs []rec, rest []byte, err error) {
	var boot uint64
	if columns&bootBefore == 0 {
		var n int
		if boot, n = binary.Uvarint(b); n <= 0 || boot > math.MaxUint32 {
			return nil, nil, errors.New("has no boot")
		}
		b = b[n:]
	} else {
		boot = uint64(before[0].boot)
	}
	count := uint64(len(before))
	if columns&timesBefore == 0 {
		var n int
		if count, n = binary.Uvarint(b); n <= 0 || count == 0 || count > maxBlock {
			return nil, nil, fmt.Errorf("says that it holds %d readings, outside 1 to %d", count, maxBlock)
		}
		b = b[n:]
	}
	rs = make([]rec, count)
	for i := range rs {
		rs[i] = rec{boot: uint32(boot), sd: math.NaN()}
	}
	if columns&timesBefore != 0 {
		for i := range rs {
			rs[i].mono = before[i].mono
		}
		return rs, b, nil
	}
	monos := make([]int64, count)
	if b, err = readInts(b, monos); err != nil {
		return nil, nil, fmt.Errorf("its column \"mono\" %w", err)
	}
	for i := range rs {
		rs[i].mono = monos[i]
	}
	return rs, b, nil
}

// checkOrder tells what no readings that share a block can be.
func checkOrder(rs []rec) error {
	for i := 1; i < len(rs); i++ {
		if rs[i-1].compare(&rs[i]) >= 0 {
			return fmt.Errorf("is out of order at reading %d", i)
		}
	}
	if rs[0].mono < 0 || rs[0].day() != rs[len(rs)-1].day() {
		return errors.New("goes over the end of a day")
	}
	return nil
}

// readPiece1 is readPiece for what version 1 wrote, after its version.
func readPiece1(b []byte, each func(blockKey, []rec) error) error {
	for len(b) > 0 {
		if len(b) < 8 {
			return errShort
		}
		id := blockKey{channel: binary.BigEndian.Uint32(b), boot: binary.BigEndian.Uint32(b[4:])}
		mono, n := binary.Uvarint(b[8:])
		if n <= 0 {
			return errShort
		}
		id.mono, b = int64(mono), b[8+n:]
		size, n := binary.Uvarint(b)
		if n <= 0 || size > uint64(len(b)-n) {
			return errShort
		}
		rs, err := readBlock(nil, id.bytes(), b[n:n+int(size)], id.boot)
		if err != nil {
			return fmt.Errorf("%v: %w", id, err)
		}
		if err := each(id, rs); err != nil {
			return err
		}
		b = b[n+int(size):]
	}
	return nil
}
