package checkpoint

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
	"slices"
	"time"
)

// Write returns the state that root points at, as bytes that Read understands. What is fixed is not written.
func Write(root any, fixed *Fixed) ([]byte, error) {
	v := reflect.ValueOf(root)
	if v.Kind() != reflect.Pointer || v.IsNil() {
		return nil, fmt.Errorf("checkpoint: a pointer to the state is wanted, not %T", root)
	}
	w := &writer{fixed: fixed.orNone(), strings: map[string]uint64{}, seen: map[extent]uint64{}}
	w.met(v, 0)
	if err := w.value(v.Elem()); err != nil {
		return nil, fmt.Errorf("checkpoint: %s%w", v.Type().Elem(), err)
	}
	if err := apart(w.seen); err != nil {
		return nil, fmt.Errorf("checkpoint: %s: %w", v.Type().Elem(), err)
	}
	return w.out, nil
}

type writer struct {
	out     []byte
	fixed   *Fixed
	strings map[string]uint64
	seen    map[extent]uint64 // what is shared, by the order in which it was met
}

// How a reference is told.
const (
	refNil   = iota
	refNew   // what it leads to follows
	refFixed // the number of what is fixed follows
	refSeen  // the number of what has been met follows
)

func (w *writer) number(n uint64) { w.out = binary.AppendUvarint(w.out, n) }

// value writes one value. An error begins with where in it the trouble lies.
func (w *writer) value(v reflect.Value) error {
	switch v.Kind() {
	case reflect.Bool:
		n := uint64(0)
		if v.Bool() {
			n = 1
		}
		w.number(n)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		w.out = binary.AppendVarint(w.out, v.Int())
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		w.number(v.Uint())
	case reflect.Float32, reflect.Float64:
		w.out = binary.LittleEndian.AppendUint64(w.out, math.Float64bits(v.Float()))
	case reflect.String:
		w.text(v.String())
	case reflect.Struct:
		return w.fields(v)
	case reflect.Array:
		return w.elements(v)
	case reflect.Slice:
		return w.slice(v)
	case reflect.Map:
		return w.table(v)
	case reflect.Pointer:
		return w.pointer(v)
	default:
		return fmt.Errorf(": a %s cannot be written", v.Type())
	}
	return nil
}

// text writes a string once, and after that its number.
func (w *writer) text(s string) {
	if n, have := w.strings[s]; have {
		w.number(n + 1)
		return
	}
	w.strings[s] = uint64(len(w.strings))
	w.number(0)
	w.number(uint64(len(s)))
	w.out = append(w.out, s...)
}

var timeType = reflect.TypeFor[time.Time]()

func (w *writer) fields(v reflect.Value) error {
	if v.Type() == timeType {
		return w.moment(v.Interface().(time.Time))
	}
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Tag.Get("checkpoint") == "-" {
			continue
		}
		if err := w.value(open(v.Field(i))); err != nil {
			return fmt.Errorf(".%s%w", f.Name, err)
		}
	}
	return nil
}

// moment writes a civil time with the zone that labels it: the one that is fixed, or its name and offset.
func (w *writer) moment(t time.Time) error {
	w.out = binary.AppendVarint(w.out, t.Unix())
	w.number(uint64(t.Nanosecond()))
	if n, have := w.fixed.number[place{reflect.ValueOf(t.Location()).Pointer(), reflect.TypeFor[*time.Location]()}]; have {
		w.number(refFixed)
		w.number(n)
		return nil
	}
	if t.Location() == time.UTC {
		w.number(refNil)
		return nil
	}
	name, offset := t.Zone()
	w.number(refNew)
	w.text(name)
	w.out = binary.AppendVarint(w.out, int64(offset))
	return nil
}

func (w *writer) elements(v reflect.Value) error {
	for i := range v.Len() {
		if err := w.value(v.Index(i)); err != nil {
			return fmt.Errorf("[%d]%w", i, err)
		}
	}
	return nil
}

// met tells whether a reference is dealt with by one word: nil, or what has been met before.
func (w *writer) met(v reflect.Value, n int) bool {
	if v.IsNil() {
		w.number(refNil)
		return true
	}
	e := extent{place{v.Pointer(), v.Type()}, n}
	if have, ok := w.seen[e]; ok {
		w.number(refSeen)
		w.number(have)
		return true
	}
	w.seen[e] = uint64(len(w.seen))
	return false
}

// slice writes the elements of a slice. An empty one shares nothing.
func (w *writer) slice(v reflect.Value) error {
	if v.Len() > 0 || v.IsNil() {
		if w.met(v, v.Len()) {
			return nil
		}
	}
	w.number(refNew)
	w.number(uint64(v.Len()))
	return w.elements(v)
}

func (w *writer) table(v reflect.Value) error {
	if !ordered(v.Type().Key().Kind()) {
		return fmt.Errorf(": the keys of a %s have no order to write them by", v.Type())
	}
	if w.met(v, 0) {
		return nil
	}
	w.number(refNew)
	w.number(uint64(v.Len()))
	keys := v.MapKeys()
	slices.SortFunc(keys, compareKeys)
	for _, k := range keys {
		if err := w.value(k); err != nil { // a number or a text: it need not lie in memory
			return err
		}
		held := reflect.New(v.Type().Elem()).Elem()
		held.Set(v.MapIndex(k))
		if err := w.value(held); err != nil {
			return fmt.Errorf("[%v]%w", k, err)
		}
	}
	return nil
}

func (w *writer) pointer(v reflect.Value) error {
	if n, have := w.fixed.number[place{v.Pointer(), v.Type()}]; have && !v.IsNil() {
		w.number(refFixed)
		w.number(n)
		return nil
	}
	if w.met(v, 0) {
		return nil
	}
	w.number(refNew)
	return w.value(v.Elem())
}

// ordered tells whether keys of a kind can be put in order.
func ordered(k reflect.Kind) bool {
	return k == reflect.String || k >= reflect.Int && k <= reflect.Uint64
}

func compareKeys(a, b reflect.Value) int {
	switch {
	case a.Kind() == reflect.String:
		return cmp.Compare(a.String(), b.String())
	case a.CanInt():
		return cmp.Compare(a.Int(), b.Int())
	}
	return cmp.Compare(a.Uint(), b.Uint())
}
