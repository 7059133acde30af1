package checkpoint

import (
	"reflect"
	"slices"
)

// Fixed is what a state points at and is no part of it. Make it with NewFixed.
type Fixed struct {
	number map[place]uint64
	at     []reflect.Value // pointers, by number
}

// place tells one thing from another: a struct and its first field have one address.
type place struct {
	at  uintptr
	typ reflect.Type
}

// NewFixed gathers all pointers that lead from the given ones through exported fields, slices and maps, themselves included.
// Roots that are made alike give the same numbers.
func NewFixed(roots ...any) *Fixed {
	f := &Fixed{number: map[place]uint64{}}
	for _, r := range roots {
		f.gather(reflect.ValueOf(r))
	}
	return f
}

// orNone makes nothing fixed of nil.
func (f *Fixed) orNone() *Fixed {
	if f == nil {
		return NewFixed()
	}
	return f
}

func (f *Fixed) gather(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return
		}
		p := place{v.Pointer(), v.Type()}
		if _, have := f.number[p]; have {
			return
		}
		f.number[p] = uint64(len(f.at))
		f.at = append(f.at, v)
		f.gather(v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				f.gather(v.Field(i))
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			f.gather(v.Index(i))
		}
	case reflect.Map:
		keys := v.MapKeys()
		if len(keys) == 0 || !ordered(keys[0].Kind()) {
			return
		}
		slices.SortFunc(keys, compareKeys)
		for _, k := range keys {
			f.gather(v.MapIndex(k))
		}
	}
}
