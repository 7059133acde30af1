package store

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pieceOf gives parts whose times, boots and columns are those of the part before, or are not.
func pieceOf() (p []byte, want [][]rec) {
	var c coder
	var before []rec
	p = []byte{pieceVersion}
	part := func(channel uint32, rs []rec) {
		p, _ = c.appendPart(p, channel, rs, before, 0)
		before = rs
		want = append(want, rs)
	}
	same := func(boot uint32, n int, shift int64, seq uint64) (rs []rec) {
		for i := range n {
			rs = append(rs, rec{boot: boot, mono: int64(i)*1e9 + shift, seq: seq + 7*uint64(i), val: float64(i % 5), sd: math.NaN()})
		}
		return rs
	}
	part(1, same(3, 30, 5e9, 100))
	part(2, same(3, 30, 5e9, 101))
	part(9, same(3, 30, 6e9, 90))
	part(9, same(4, 30, 6e9, math.MaxUint64-30*7))
	part(12, same(4, 1, 1, 2))
	odd := same(4, 4, 1, 3)
	odd[2].q, odd[1].n, odd[3].span, odd[0].sd = 2, 5, 1e8, 0.25
	part(70_000, odd)
	return p, want
}

func TestPieceComesBack(t *testing.T) {
	p, want := pieceOf()
	var got [][]rec
	var ids []uint32
	key := key64(1)
	require.NoError(t, readPiece(key, sealCRC(key, p, 0), func(id blockKey, rs []rec) error {
		ids = append(ids, id.channel)
		got = append(got, rs)
		return nil
	}))
	assert.Equal(t, []uint32{1, 2, 9, 9, 12, 70_000}, ids)
	require.Len(t, got, len(want))
	for i := range want {
		require.Len(t, got[i], len(want[i]))
		for j := range want[i] {
			a, b := want[i][j], got[i][j]
			assert.Equal(t, math.Float64bits(a.sd), math.Float64bits(b.sd))
			a.sd, b.sd = 0, 0
			assert.Equal(t, a, b)
		}
	}
}

// What 16 channels of one beat have in common is written once: a quarter of a page, so that a page takes many commits.
func TestPieceOfOneBeatIsSmall(t *testing.T) {
	var c coder
	var before []rec
	p := []byte{pieceVersion}
	for channel := range uint32(16) {
		rs := make([]rec, 30)
		for i := range rs {
			rs[i] = rec{boot: 1, mono: 1e15 + int64(i)*1e9, seq: 1<<40 + 16*uint64(i) + uint64(channel), sd: math.NaN()}
		}
		p, _ = c.appendPart(p, channel, rs, before, 1)
		before = rs
	}
	assert.Less(t, len(p), pageSize/4/2)
}

func FuzzReadPiece(f *testing.F) {
	p, _ := pieceOf()
	f.Add(p)
	f.Add([]byte{pieceVersion, 1, bootBefore, 1})
	f.Add([]byte{1, 0, 0, 0, 1})
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) == 0 {
			return // openCRC lets none through
		}
		key := key64(1)
		_ = readPiece(key, sealCRC(key, append([]byte(nil), b...), 0), func(_ blockKey, rs []rec) error {
			if len(rs) == 0 || len(rs) > maxBlock {
				t.Fatalf("%d readings", len(rs))
			}
			return nil
		})
	})
}
