package watch_test

import (
	"fmt"
	"math"
	"reflect"
	"sort"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// flat writes out everything that a value holds, a line for each number and word, so that two values can be compared
// though a NaN is not equal to itself, and one value with itself later on.
func flat(v any) []string {
	var out []string
	write(&out, "", reflect.ValueOf(v))
	return out
}

func write(out *[]string, path string, v reflect.Value) {
	line := func(what any) { *out = append(*out, fmt.Sprintf("%s = %v", path, what)) }
	if v.IsValid() && v.Type() == reflect.TypeFor[time.Time]() {
		line(v.Interface().(time.Time).UTC().Format(time.RFC3339Nano))
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			line("nil")
			return
		}
		write(out, path, v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			write(out, path+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Slice:
		line(fmt.Sprint(v.Len(), " of them"))
		for i := range v.Len() {
			write(out, fmt.Sprintf("%s[%d]", path, i), v.Index(i))
		}
	case reflect.Map:
		keys := v.MapKeys()
		sort.Slice(keys, func(i, j int) bool { return fmt.Sprint(keys[i]) < fmt.Sprint(keys[j]) })
		for _, k := range keys {
			write(out, fmt.Sprintf("%s[%v]", path, k), v.MapIndex(k))
		}
	case reflect.Float64:
		line(fmt.Sprintf("%016x %v", math.Float64bits(v.Float()), v.Float())) // bit for bit
	default:
		line(v)
	}
}

// TestFlatTellsDifferences: a comparison that sees nothing proves nothing.
func TestFlatTellsDifferences(t *testing.T) {
	type inner struct {
		F float64
		T time.Time
		p *int
	}
	one, two := 1, 2
	at := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	base := func() []inner { return []inner{{math.NaN(), at, &one}} }
	assert.Equal(t, flat(base()), flat(base()))
	for _, other := range [][]inner{
		{},
		{{1, at, &one}},
		{{math.NaN(), at.Add(1), &one}},
		{{math.NaN(), at, &two}},
		{{math.NaN(), at, nil}},
		append(base(), inner{}),
	} {
		assert.NotEqual(t, flat(base()), flat(other))
	}
	assert.NotEqual(t, flat(0.3), flat(math.Nextafter(0.3, 1)))
	assert.NotEqual(t, flat(map[string]int{"a": 1}), flat(map[string]int{"a": 2}))
}
