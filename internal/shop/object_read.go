package shop

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"ductward/internal/quantity"
)

// word returns the text of a key, "" if it is not given.
func (o *object) word(key string) string {
	v := o.get(key)
	if v == nil {
		return ""
	}
	if v.shape != scalar {
		o.wrong(v, fmt.Sprintf("%s is %s", key, v), "write one text")
		return ""
	}
	if len(v.text) > maxText {
		o.wrong(v, fmt.Sprintf("%s has %d bytes, the limit is %d", key, len(v.text), maxText), "shorten it")
		return ""
	}
	return v.text
}

// oneOf returns the index of the key's word among the choices, -1 if it is not given or not among them.
func (o *object) oneOf(key string, choices []string) int {
	w := o.word(key)
	if w == "" {
		return -1
	}
	for i, c := range choices {
		if c == w {
			return i
		}
	}
	o.wrong(o.get(key), fmt.Sprintf("%s %s is not known", key, shown(w)), choose(w, choices))
	return -1
}

// flag returns a yes or no, false if it is not given.
func (o *object) flag(key string) bool {
	switch w := o.word(key); strings.ToLower(w) {
	case "yes", "true":
		return true
	case "no", "false", "":
	default:
		o.wrong(o.get(key), fmt.Sprintf("%s %s is neither yes nor no", key, shown(w)), "write yes or no")
	}
	return false
}

// count returns a whole number within bounds, otherwise the default.
func (o *object) count(key string, least, most, otherwise int) int {
	w := o.word(key)
	if w == "" {
		return otherwise
	}
	n, err := strconv.Atoi(w)
	if err != nil || n < least || n > most {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not a whole number from %d to %d", key, shown(w), least, most), "")
		return otherwise
	}
	return n
}

// number returns a pure number within bounds, otherwise the default.
func (o *object) number(key string, least, most, otherwise float64) float64 {
	w := o.word(key)
	if w == "" {
		return otherwise
	}
	x, ok := pure(w)
	if !ok {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not a plain number", key, shown(w)), fmt.Sprintf("write a number without a unit from %g to %g", least, most))
		return otherwise
	}
	if x < least || x > most {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not between %g and %g", key, w, least, most), "")
		return otherwise
	}
	return x
}

// pure reads a decimal number without a unit. NaN, Inf and hexadecimal are not numbers here.
func pure(s string) (float64, bool) {
	if s == "" || len(s) > 40 || strings.Trim(s, "0123456789+-.eE") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil
}

// quantity returns a quantity within its limit in SI units, otherwise the default.
func (o *object) quantity(key string, l limit, otherwise float64) float64 {
	v := o.get(key)
	if v == nil {
		return otherwise
	}
	if v.shape != scalar {
		o.wrong(v, fmt.Sprintf("%s is %s", key, v), fmt.Sprintf("write %s such as %q", l.kind, l.kind.Example()))
		return otherwise
	}
	x, ok := o.inLimit(v, key, l)
	if !ok {
		return otherwise
	}
	return x
}

// inLimit reads one scalar as a quantity.
func (o *object) inLimit(v *value, key string, l limit) (float64, bool) {
	x, err := quantity.Parse(l.kind, v.text)
	if err != nil {
		var e *quantity.Error
		if errors.As(err, &e) {
			o.wrong(v, key+" "+e.Text, l.advice(v.text, e.Want))
		} else {
			o.wrong(v, key+": "+err.Error(), "")
		}
		return math.NaN(), false
	}
	if text := l.breach(x); text != "" {
		o.wrong(v, fmt.Sprintf("%s %s %s", key, v.text, text), l.instead(v.text, x))
		return math.NaN(), false
	}
	return x, true
}

// list returns the items of a list, none if the key is not given. A single value stands for a list of one.
func (o *object) list(key string) []*value {
	v := o.get(key)
	switch {
	case v == nil:
		return nil
	case v.shape == list:
		return v.items
	case v.shape == scalar:
		return []*value{v}
	}
	o.wrong(v, fmt.Sprintf("%s is %s", key, v), `write a list: each entry on its own line behind "- "`)
	return nil
}

// entries returns the items of a list of mappings.
func (o *object) entries(key string) []*value {
	v := o.get(key)
	if v == nil {
		return nil
	}
	if v.shape != list {
		o.wrong(v, fmt.Sprintf("%s is %s where a list is wanted", key, v), `write each entry on its own line behind "- "`)
		return nil
	}
	return v.items
}
