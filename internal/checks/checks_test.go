package checks

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/journal"
	"ductward/internal/shop"
)

func TestWhatIsDue(t *testing.T) {
	day := func(m time.Month, d int) time.Time { return time.Date(2026, m, d, 9, 0, 0, 0, time.UTC) }
	hoses := shop.Check{Name: "hoses", Days: 7}
	test := shop.Check{Name: "thorough examination", Months: 14}
	began := day(time.January, 1)
	entry := func(at time.Time, name string, r journal.Result) journal.Entry {
		return journal.Entry{Time: at, Kind: journal.Check, Subject: name, Result: r, By: "Ada"}
	}
	for _, c := range []struct {
		name    string
		entries []journal.Entry
		now     time.Time
		at      time.Time
		over    bool
	}{
		{"never, and not yet", nil, day(time.January, 7), day(time.January, 8), false},
		{"never, and due", nil, day(time.January, 8), day(time.January, 8), true},
		{"done", []journal.Entry{entry(day(time.January, 6), "hoses", journal.InOrder)}, day(time.January, 8), day(time.January, 13), false},
		{"not in order is done", []journal.Entry{entry(day(time.January, 6), "hoses", journal.NotInOrder)}, day(time.January, 8), day(time.January, 13), false},
		{"not done is not done", []journal.Entry{entry(day(time.January, 6), "hoses", journal.NotDone)}, day(time.January, 8), day(time.January, 8), true},
		{"another one", []journal.Entry{entry(day(time.January, 6), "bin", journal.InOrder)}, day(time.January, 8), day(time.January, 8), true},
		{"noted late, out of order", []journal.Entry{entry(day(time.January, 6), "hoses", journal.InOrder), entry(day(time.January, 3), "hoses", journal.InOrder)},
			day(time.January, 8), day(time.January, 13), false},
	} {
		got := List([]shop.Check{hoses}, c.entries, began, c.now)[0]
		assert.Equal(t, c.at, got.At, c.name)
		assert.Equal(t, c.over, got.Over, c.name)
	}
	got := List([]shop.Check{test}, []journal.Entry{entry(day(time.February, 1), test.Name, journal.InOrder)}, began, day(time.March, 1))[0]
	assert.Equal(t, time.Date(2027, time.April, 1, 9, 0, 0, 0, time.UTC), got.At, "months are those of the calendar")
	assert.Equal(t, "Ada", got.By)
}
