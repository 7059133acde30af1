package store

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/outbox"
	"ductward/internal/steady"
)

// Whatever the bytes, a decoder neither panics nor takes more memory than a full block needs; what it takes for sound
// is sound.
func FuzzDecodeBlock(f *testing.F) {
	var c coder
	rs := []rec{{mono: 1e9, seq: 1, val: 1.5, sd: math.NaN()}, {mono: 2e9, seq: 2, val: math.Pi, sd: 1, n: 3, span: 1, q: 2}}
	b, _ := c.appendBlock(nil, nil, rs, 0)
	f.Add(b[:len(b)-4])
	b, _ = c.appendBlock(nil, nil, rs[:1], 0)
	f.Add(b[:len(b)-4])
	noise := make([]rec, 400)
	for i := range noise {
		noise[i] = rec{mono: int64(i) * 1e9, seq: uint64(i), val: 3.7 + float64(float64(i*i%101)*0.01), sd: math.NaN()}
	}
	b, _ = c.appendBlock(nil, nil, noise, 0)
	f.Add(b[:len(b)-4])
	f.Fuzz(func(t *testing.T, b []byte) {
		rs, err := decodeBlock(nil, b, 1)
		if err != nil {
			return
		}
		if len(rs) == 0 || len(rs) > maxBlock {
			t.Fatalf("%d readings", len(rs))
		}
		for i := 1; i < len(rs); i++ {
			if rs[i-1].compare(&rs[i]) >= 0 {
				t.Fatalf("reading %d is out of order", i)
			}
		}
		again, _ := new(coder).appendBlock(nil, nil, rs, 0)
		back, err := decodeBlock(nil, again[:len(again)-4], 1)
		if err != nil || len(back) != len(rs) {
			t.Fatalf("what was decoded cannot be encoded: %v", err)
		}
	})
}

func FuzzDecodeRolls(f *testing.F) {
	var c coder
	b := c.appendRolls(nil, nil, []roll{{slot: 3, n: 2, min: 1, max: 2, sum: 3}, {slot: 4, n: 1, min: math.Pi, max: math.Pi, sum: math.Pi}})
	f.Add(b[:len(b)-4])
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) == 0 {
			return // openCRC lets none through
		}
		rs, err := decodeRolls(b, &levels[0])
		if err == nil && (len(rs) == 0 || int64(len(rs)) > levels[0].slots) {
			t.Fatalf("%d roll-ups", len(rs))
		}
	})
}

// Whatever a file holds, Open makes a usable store beside it or says why not.
func FuzzOpen(f *testing.F) {
	dir := f.TempDir()
	s, err := Open(dir, Options{})
	require.NoError(f, err)
	require.NoError(f, s.Append(seconds(newBoot(f, s, noon), 0, 500)))
	require.NoError(f, s.Close())
	sound, err := os.ReadFile(filepath.Join(dir, FileName))
	require.NoError(f, err)
	f.Add(uint32(0), []byte{})
	f.Add(uint32(16), []byte{0xff, 0, 0xff})
	f.Add(uint32(4096+60), []byte("damage"))
	f.Add(uint32(3*4096+8), []byte("\x01\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, at uint32, damage []byte) {
		dir := t.TempDir()
		b := append([]byte(nil), sound...)
		copy(b[int(at)%len(b):], damage)
		require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), b, 0o644))
		s, err := Open(dir, Options{OpenTimeout: time.Second})
		if err != nil {
			return
		}
		_, _ = s.Check() // finds what it finds, without a panic
		_ = s.Close()
	})
}

// Whatever a file holds, Verify finds what it finds and changes nothing; and where Open makes a store of it, everything can
// be read from it, if only as damage.
func FuzzVerify(f *testing.F) {
	dir := f.TempDir()
	was, err := Open(dir, Options{})
	require.NoError(f, err)
	boot := newBoot(f, was, noon)
	require.NoError(f, was.Append(seconds(boot, 0, 4000)))
	require.NoError(f, was.AppendRuns([]steady.Run{{Collector: "north", Boot: boot, End: time.Minute}}))
	require.NoError(f, was.Seal())
	_, err = was.AddJournal(journal.Entry{Time: noon, Kind: journal.Other})
	require.NoError(f, err)
	require.NoError(f, was.PutItems([]outbox.Item{{Number: 1, Target: "mail"}}))
	require.NoError(f, was.Append(seconds(boot, 4000, 4100)))
	require.NoError(f, was.Close())
	sound, err := os.ReadFile(filepath.Join(dir, FileName))
	require.NoError(f, err)
	f.Add(uint32(0), []byte{})
	f.Add(uint32(2*pageSize), []byte{0xff, 0, 0xff, 0xff})
	f.Add(uint32(5*pageSize+8), []byte("\x01\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, at uint32, damage []byte) {
		path := filepath.Join(t.TempDir(), FileName)
		b := append([]byte(nil), sound...)
		copy(b[int(at)%len(b):], damage)
		require.NoError(t, os.WriteFile(path, b, 0o600))
		_, _ = Verify(path)
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, b, after, "it writes nothing")
		s, err := Open(filepath.Dir(path), Options{OpenTimeout: time.Second})
		if err != nil {
			return
		}
		for _, name := range []string{"boots", "runs", "journal", "findings", "alarms", "baselines", "shops", "outbox"} {
			for range s.Records(name) { // finds what it finds
			}
		}
		for _, l := range levels {
			for range s.RollUps(string(l.bucket)) {
			}
		}
		_ = s.Close()
	})
}
