package main

import (
	"encoding/binary"
	"errors"
	"math"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/reading"
)

// naive is bbolt with a transaction a reading.
type naive struct {
	db  *bolt.DB
	ids map[string]uint32
}

var naiveBucket = []byte("raw")

func naiveFile(dir string) string { return filepath.Join(dir, "naive.db") }

func openNaive(dir string) (*naive, error) {
	db, err := bolt.Open(naiveFile(dir), 0o644, &bolt.Options{Timeout: time.Second, PageSize: 4096})
	if err != nil {
		return nil, err
	}
	return &naive{db, map[string]uint32{}}, db.Update(func(tx *bolt.Tx) error {
		_, err := tx.CreateBucketIfNotExists(naiveBucket)
		return err
	})
}

func (e *naive) append(rs []reading.Reading) error {
	for i := range rs {
		id, ok := e.ids[rs[i].Channel]
		if !ok {
			id = uint32(len(e.ids))
			e.ids[rs[i].Channel] = id
		}
		key := binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint32(nil, id), uint64(rs[i].Mono))
		err := e.db.Update(func(tx *bolt.Tx) error {
			return tx.Bucket(naiveBucket).Put(key, binary.LittleEndian.AppendUint64(nil, math.Float64bits(rs[i].Value)))
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (e *naive) commit() error { return nil }
func (e *naive) close() error  { return e.db.Close() }

func (e *naive) chart(string, time.Time, time.Time, int) (int, error) {
	return 0, errors.New("the naive engine draws no charts")
}
