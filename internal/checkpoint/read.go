package checkpoint

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"time"
	"unsafe"
)

// ErrDamaged is returned for bytes that are not what Write returned for a state of this type.
var ErrDamaged = errors.New("not a state of this program")

// Read puts back into the value that root points at what Write was given. Where root holds a pointer already, at the first
// place in the order of fields that leads to a thing, that thing is filled and keeps its fields that are left alone; maps
// and slices are made anew. After an error root is of no use.
func Read(data []byte, root any, fixed *Fixed) error {
	v := reflect.ValueOf(root)
	if v.Kind() != reflect.Pointer || v.IsNil() {
		return fmt.Errorf("checkpoint: a pointer to the state is wanted, not %T", root)
	}
	r := &reader{in: data, fixed: fixed.orNone(), seen: []reflect.Value{v}}
	r.value(v.Elem())
	if !r.bad && len(r.in) == 0 {
		return nil
	}
	return fmt.Errorf("checkpoint: %d of %d bytes read: %w", len(data)-len(r.in), len(data), ErrDamaged)
}

type reader struct {
	in      []byte
	fixed   *Fixed
	strings []string
	seen    []reflect.Value
	bad     bool // what was read makes no sense; from here on everything reads as nothing
}

// fail makes everything that follows read as nothing.
func (r *reader) fail() { r.bad = true }

func (r *reader) number() uint64 {
	n, size := binary.Uvarint(r.in)
	return take(r, n, size)
}

func (r *reader) signed() int64 {
	n, size := binary.Varint(r.in)
	return take(r, n, size)
}

func take[T any](r *reader, n T, size int) T {
	var none T
	if r.bad || size <= 0 {
		r.fail()
		return none
	}
	r.in = r.in[size:]
	return n
}

// count reads how many there are of what takes a byte or more each.
func (r *reader) count() int {
	n := r.number()
	if n > uint64(len(r.in)) {
		r.fail()
		return 0
	}
	return int(n)
}

// value reads one value. It never panics: sizes and numbers are checked before they are used.
func (r *reader) value(v reflect.Value) {
	if r.bad {
		return
	}
	switch v.Kind() {
	case reflect.Bool:
		v.SetBool(r.number() == 1)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		v.SetInt(r.signed())
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		v.SetUint(r.number())
	case reflect.Float32, reflect.Float64:
		v.SetFloat(r.float())
	case reflect.String:
		v.SetString(r.text())
	case reflect.Struct:
		r.fields(v)
	case reflect.Array:
		for i := range v.Len() {
			r.value(v.Index(i))
		}
	case reflect.Slice:
		r.slice(v)
	case reflect.Map:
		r.table(v)
	case reflect.Pointer:
		r.pointer(v)
	default:
		r.fail()
	}
}

func (r *reader) float() float64 {
	if len(r.in) < 8 {
		r.fail()
		return 0
	}
	bits := binary.LittleEndian.Uint64(r.in)
	r.in = r.in[8:]
	return math.Float64frombits(bits)
}

func (r *reader) text() string {
	if n := r.number(); n > 0 {
		if n > uint64(len(r.strings)) {
			r.fail()
			return ""
		}
		return r.strings[n-1]
	}
	n := r.count()
	s := string(r.in[:n])
	r.in = r.in[n:]
	r.strings = append(r.strings, s)
	return s
}

func (r *reader) fields(v reflect.Value) {
	if v.Type() == timeType {
		v.Set(reflect.ValueOf(r.moment()))
		return
	}
	for i := range v.NumField() {
		if v.Type().Field(i).Tag.Get("checkpoint") != "-" {
			r.value(open(v.Field(i)))
		}
	}
}

// open returns a field as one that can be read and set, exported or not: the only thing here that reflection does not do by
// itself. The field must lie in memory, which a value in a map does not.
func open(v reflect.Value) reflect.Value {
	return reflect.NewAt(v.Type(), unsafe.Pointer(v.UnsafeAddr())).Elem()
}

func (r *reader) moment() time.Time {
	t := time.Unix(r.signed(), int64(r.number())).UTC()
	switch r.number() {
	case refNil:
		return t
	case refFixed:
		if zone, ok := r.fixedAt().(*time.Location); ok {
			return t.In(zone)
		}
	case refNew:
		name := r.text()
		return t.In(time.FixedZone(name, int(r.signed())))
	}
	r.fail()
	return t
}

// fixedAt returns what is fixed under the number that follows; nil after a failure.
func (r *reader) fixedAt() any {
	n := r.number()
	if n >= uint64(len(r.fixed.at)) {
		r.fail()
		return nil
	}
	return r.fixed.at[n].Interface()
}

// met deals with a reference that is told by one word. It returns false where what it leads to follows.
func (r *reader) met(v reflect.Value) bool {
	switch r.number() {
	case refNew:
		return r.bad
	case refNil:
		v.SetZero()
	case refFixed:
		r.set(v, reflect.ValueOf(r.fixedAt()))
	case refSeen:
		n := r.number()
		if n >= uint64(len(r.seen)) {
			r.fail()
			return true
		}
		r.set(v, r.seen[n])
	default:
		r.fail()
	}
	return true
}

func (r *reader) set(v, to reflect.Value) {
	if r.bad || !to.IsValid() || to.Type() != v.Type() {
		r.fail()
		return
	}
	v.Set(to)
}

func (r *reader) slice(v reflect.Value) {
	if r.met(v) {
		return
	}
	n := r.count()
	s := reflect.MakeSlice(v.Type(), n, n)
	if n > 0 {
		r.seen = append(r.seen, s)
	}
	for i := range n {
		r.value(s.Index(i))
	}
	v.Set(s)
}

func (r *reader) table(v reflect.Value) {
	if r.met(v) {
		return
	}
	n := r.count()
	m := reflect.MakeMapWithSize(v.Type(), n)
	r.seen = append(r.seen, m)
	for range n {
		if r.bad {
			break
		}
		key, held := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		r.value(key)
		r.value(held)
		m.SetMapIndex(key, held)
	}
	v.Set(m)
}

func (r *reader) pointer(v reflect.Value) {
	if r.met(v) {
		return
	}
	if v.IsNil() {
		v.Set(reflect.New(v.Type().Elem()))
	}
	r.seen = append(r.seen, reflect.ValueOf(v.Interface()))
	r.value(v.Elem())
}
