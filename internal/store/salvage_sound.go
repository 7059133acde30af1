package store

import (
	"bytes"
	"errors"
	"fmt"
	"unicode"
	"unicode/utf8"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

// soundEntry tells whether a value reads as one of its bucket, under its key.
func soundEntry(bucket, k, v []byte) error {
	switch string(bucket) {
	case string(bucketMeta), string(bucketDamaged):
		return nil
	case string(bucketChannels):
		if name := string(v); len(k) != 4 || name == "" || !utf8.ValidString(name) ||
			bytes.ContainsFunc(v, unicode.IsControl) {
			return errors.New("is no name of a channel")
		}
		return nil
	case string(bucketOpen):
		if len(k) != 8 {
			return errors.New("is no number of a piece")
		}
		return readPiece(k, v, func(blockKey, []rec) error { return nil })
	case string(bucketBlocks):
		return soundBlock(k, v)
	case string(bucketOutbox):
		_, err := unpackItem(k, v)
		return err
	case string(bucketRuns):
		_, err := unpackRun(k, v)
		return err
	}
	for i := range levels {
		if bytes.Equal(levels[i].bucket, bucket) {
			return soundRolls(&levels[i], k, v)
		}
	}
	return soundRecord(bucket, k, v)
}

func soundBlock(k, v []byte) error {
	key, ok := parseBlockKey(k)
	if !ok {
		return errors.New("is no key of a block")
	}
	rs, err := readBlock(nil, k, v, key.boot)
	if err == nil && rs[0].mono != key.mono {
		err = fmt.Errorf("begins at %d ns", rs[0].mono)
	}
	return err
}

func soundRolls(l *level, k, v []byte) error {
	key, ok := parseRollKey(k)
	if !ok {
		return errors.New("is no key of roll-ups")
	}
	rs, err := readRolls(k, v, l)
	if err == nil && (l.period(rs[0].slot) != int64(key.period) || l.period(rs[len(rs)-1].slot) != int64(key.period)) {
		err = errors.New("holds slots of another period")
	}
	return err
}

func soundRecord(bucket, k, v []byte) error {
	into := map[string]any{string(bucketBoots): new(bootRecord), string(bucketJournal): new(journal.Entry),
		string(bucketFindings): &findingRecord{Finding: finding.Finding{}}, string(bucketAlarms): new(alarm.Alarm),
		string(bucketBaselines): new(Baseline), string(bucketShops): new(Shop)}[string(bucket)]
	if width := map[string]int{string(bucketBoots): 4, string(bucketJournal): 8, string(bucketShops): 8}[string(bucket)]; width > 0 && len(k) != width {
		return errors.New("is no number")
	}
	return unpackRecord(k, v, into)
}
