package store

import (
	"encoding/json"
	"fmt"
	"math"
)

// A record is version u8 | JSON | CRC-32C of key and value. JSON bears new fields without a new version.
const recordVersion = 1

func packRecord(key []byte, v any) ([]byte, error) {
	body, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("encode a record: %w", err)
	}
	return sealCRC(key, append([]byte{recordVersion}, body...), 0), nil
}

func unpackRecord(key, b []byte, v any) error {
	body, err := openCRC(key, b)
	if err != nil {
		return err
	}
	if body[0] != recordVersion {
		return fmt.Errorf("is of version %d, and this program reads up to %d", body[0], recordVersion)
	}
	if err := json.Unmarshal(body[1:], v); err != nil {
		return fmt.Errorf("cannot be decoded: %w", err)
	}
	return nil
}

// number is a float64 that may be not known: JSON has no NaN, so that becomes null.
type number float64

// MarshalJSON writes null for a number that is not known.
func (n number) MarshalJSON() ([]byte, error) {
	f := float64(n)
	if math.IsNaN(f) {
		return []byte("null"), nil
	}
	if math.IsInf(f, 0) {
		return nil, fmt.Errorf("%g cannot be stored: a size is finite or not known", f)
	}
	return json.Marshal(f)
}

// UnmarshalJSON reads null as not known.
func (n *number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = number(math.NaN())
		return nil
	}
	return json.Unmarshal(b, (*float64)(n))
}
