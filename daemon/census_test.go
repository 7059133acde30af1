package daemon

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"unsafe"
)

// census counts what can be reached from a value, in bytes by the Go type of what holds it: elements of slices and maps,
// what pointers point to, and texts. What other packages hold inside (a logger, a lock, the store's file) is passed over:
// it is the project's own types that gather a record.
type census struct {
	bytes map[string]int
	seen  map[place]bool
}

type place struct {
	at   uintptr
	kind reflect.Type
}

func textPlace(s string) place {
	return place{uintptr(unsafe.Pointer(unsafe.StringData(s))), reflect.TypeFor[string]()}
}

// censusOf counts what lives under each of some values.
func censusOf(roots ...any) map[string]int {
	c := census{bytes: map[string]int{}, seen: map[place]bool{}}
	for _, r := range roots {
		c.walk(reflect.ValueOf(r), "")
	}
	return c.bytes
}

// walk goes through a value; holder is the field that it was reached by.
func (c *census) walk(v reflect.Value, holder string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() && c.first(v) {
			c.add(holder, int(v.Type().Elem().Size()))
			c.walk(v.Elem(), holder)
		}
	case reflect.Interface:
		if !v.IsNil() {
			c.walk(v.Elem(), holder)
		}
	case reflect.String:
		if s := v.String(); !c.seen[textPlace(s)] {
			c.seen[textPlace(s)] = true
			c.add(holder, len(s))
		}
	case reflect.Slice:
		if v.Len() > 0 && c.first(v) {
			c.add(holder, v.Cap()*int(v.Type().Elem().Size()))
			c.elements(v, holder)
		}
	case reflect.Array:
		c.elements(v, holder)
	case reflect.Map:
		if v.Len() > 0 && c.first(v) {
			c.add(holder, v.Len()*int(v.Type().Key().Size()+v.Type().Elem().Size()))
			for i := v.MapRange(); i.Next(); {
				c.walk(i.Key(), holder)
				c.walk(i.Value(), holder)
			}
		}
	case reflect.Struct:
		c.fields(v)
	}
}

func (c *census) elements(v reflect.Value, holder string) {
	if flat(v.Type().Elem()) {
		return
	}
	for i := range v.Len() {
		c.walk(v.Index(i), holder)
	}
}

func (c *census) fields(v reflect.Value) {
	if !strings.HasPrefix(v.Type().PkgPath(), "ductward/") && v.Type().PkgPath() != "" {
		return
	}
	for i := range v.NumField() {
		if !flat(v.Field(i).Type()) {
			c.walk(v.Field(i), v.Type().String()+"."+v.Type().Field(i).Name)
		}
	}
}

// flat tells whether nothing can hang on values of a type.
func flat(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.Pointer, reflect.Interface, reflect.String, reflect.Slice, reflect.Map, reflect.Struct:
		return false
	case reflect.Array:
		return flat(t.Elem())
	}
	return true
}

// first tells whether something is met for the first time.
func (c *census) first(v reflect.Value) bool {
	p := place{v.Pointer(), v.Type()}
	if c.seen[p] {
		return false
	}
	c.seen[p] = true
	return true
}

func (c *census) add(holder string, bytes int) { c.bytes[holder] += bytes }

// growth lists what has grown between two counts, the largest first, as lines of bytes and holder.
func growth(before, after map[string]int) []string {
	var grown []string
	holders := slices.SortedFunc(maps.Keys(after), func(a, b string) int {
		return after[b] - before[b] - (after[a] - before[a])
	})
	for _, h := range holders {
		if d := after[h] - before[h]; d > 0 {
			grown = append(grown, fmt.Sprintf("%+d to %d in %s", d, after[h], h))
		}
	}
	return grown
}

// ofTheWatch sums a count without the simulated plant, which a board has not, and without the estimate's views, of which a
// stated number is kept to save work.
func ofTheWatch(count map[string]int) (bytes int) {
	for holder, n := range count {
		if !slices.ContainsFunc([]string{"rig.", "plant.", "estimate.view"}, func(p string) bool { return strings.HasPrefix(holder, p) }) {
			bytes += n
		}
	}
	return bytes
}
