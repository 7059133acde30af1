package journal

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func book() []Entry {
	day := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	return []Entry{
		{Time: day, Kind: FilterCleaned, Subject: "main", By: "Ada"},
		{Time: day.Add(time.Hour), Kind: Check, Subject: "hoses", Result: NotInOrder, Note: "one split", By: "Ben"},
		{Time: day.Add(2 * time.Hour), Kind: Other, Corrects: 1, Note: "that was the bin", By: "Ada"},
	}
}

func TestAnyChangeBreaksTheChain(t *testing.T) {
	head := Head(book())
	for name, change := range map[string]func([]Entry) []Entry{
		"a word":          func(b []Entry) []Entry { b[0].By = "Eve"; return b },
		"a time":          func(b []Entry) []Entry { b[1].Time = b[1].Time.Add(time.Nanosecond); return b },
		"a result":        func(b []Entry) []Entry { b[1].Result = InOrder; return b },
		"a correction":    func(b []Entry) []Entry { b[2].Corrects = 2; return b },
		"one taken out":   func(b []Entry) []Entry { return append(b[:1], b[2]) },
		"one put between": func(b []Entry) []Entry { return []Entry{b[0], {Kind: Other}, b[1], b[2]} },
		"another order":   func(b []Entry) []Entry { b[0], b[1] = b[1], b[0]; return b },
		"letters that go over to the next field": func(b []Entry) []Entry {
			b[0].Subject, b[0].Note = "mai", "n"
			return b
		},
	} {
		_, ok := Holds(change(book()), head)
		assert.False(t, ok, name)
	}
	more := append(book(), Entry{Kind: Other})
	n, ok := Holds(more, head)
	assert.True(t, ok, "what is added behind leaves it")
	assert.Equal(t, 3, n)
	elsewhere := book()
	elsewhere[0].Time = elsewhere[0].Time.In(time.FixedZone("", 3600))
	assert.Equal(t, head, Head(elsewhere), "the zone in which a time is told is no part of it")
}

// The head of a logbook that a program has sent must be the same for ever, whatever fields come later.
func TestTheChainIsThatOfVersionOne(t *testing.T) {
	assert.Equal(t, "661a253f", Head(book()).String()[:8], "as computed apart with another SHA-256")
	assert.Equal(t, Hash{}, Head(nil))
}

func TestHeadsAreReadAsTheyArePrinted(t *testing.T) {
	h := Head(book())
	got, err := ParseHash(" " + h.String()[:32] + " \n" + h.String()[32:])
	require.NoError(t, err)
	assert.Equal(t, h, got)
	_, err = ParseHash("abc")
	assert.ErrorContains(t, err, "64 figures")
}

func TestACorrectionStandsForWhatItCorrects(t *testing.T) {
	b := book()
	assert.Equal(t, []Entry{b[1], b[2]}, InForce(b))
	b[2].Corrects = 3 // itself, and what is not there yet, cannot be corrected
	assert.Len(t, InForce(b), 3)

	var out bytes.Buffer
	require.NoError(t, WriteCSV(&out, book(), []uint64{1, 2, 3}))
	got, err := ReadCSV(&out, "j.csv")
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, Check, got[0].Kind)
}
