package main

import (
	"encoding/json"
	"math"
	"time"
)

// number is a float64 that JSON writes as null where it is not known: never as 0, and never as NaN, which JSON cannot
// say.
type number float64

// MarshalJSON writes the shortest digits that read back as the same number, or null.
func (n number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(v)
}

// moment is a time that JSON writes as RFC 3339 with its offset, or null where it is not known.
type moment time.Time

// MarshalJSON writes RFC 3339 to the second.
func (m moment) MarshalJSON() ([]byte, error) {
	t := time.Time(m)
	if t.IsZero() {
		return []byte("null"), nil
	}
	return json.Marshal(t.Format(time.RFC3339))
}

// word is a text that JSON writes as null where there is none.
type word string

// MarshalJSON writes null for the empty text.
func (w word) MarshalJSON() ([]byte, error) {
	if w == "" {
		return []byte("null"), nil
	}
	return json.Marshal(string(w))
}
