package shop

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"ductward/internal/quantity"
)

// Prices are what the owner pays, all in one currency. A price that was not given is nil or NaN.
type Prices struct {
	Currency string  // three capital letters, as "EUR" (ISO 4217)
	Pipe     BySize  // a metre of smooth pipe
	Elbow    BySize  // each
	Wye      BySize  // each, by its widest leg
	Reducer  BySize  // each, a contraction or an expansion, by its large end
	Gate     BySize  // each
	Entry    BySize  // each, a flange or bell mouth at a hood
	Sealing  float64 // a square metre of duct surface
	Media    float64 // a square metre of filter media
	Labour   Labour
	Line     int
}

// Labour is what it costs to have the work done. A price that was not given is 0: the owner does it.
type Labour struct {
	Pipe    float64 // a metre hung
	Piece   float64 // an elbow, wye, reducer, gate or entry fitted
	Sealing float64 // a square metre sealed
}

// BySize is a price that depends on the diameter, by rising diameter. A single entry of diameter 0 holds at any.
type BySize []SizePrice

// SizePrice is the price of one size.
type SizePrice struct {
	Diameter float64 // m
	Price    float64
}

// At is the price at a diameter (m), NaN where none was given. Between two sizes it is read along a straight line, and
// beyond them it goes with the diameter, as the sheet metal does.
func (b BySize) At(diameter float64) float64 {
	if len(b) == 0 || math.IsNaN(diameter) {
		return math.NaN()
	}
	first, last := b[0], b[len(b)-1]
	switch {
	case len(b) == 1 && first.Diameter == 0:
		return first.Price
	case diameter <= first.Diameter:
		return first.Price * diameter / first.Diameter
	case diameter >= last.Diameter:
		return last.Price * diameter / last.Diameter
	}
	i := slices.IndexFunc(b, func(p SizePrice) bool { return p.Diameter >= diameter })
	low, high := b[i-1], b[i]
	return low.Price + (high.Price-low.Price)*(diameter-low.Diameter)/(high.Diameter-low.Diameter)
}

// mostMoney bounds a price, to catch slips of the pen in most currencies.
const mostMoney = 999999

// prices reads the owner's prices; nil where none are given.
func (r *reader) prices(v *value) *Prices {
	if v == nil {
		return nil
	}
	o := r.object(v, "prices", "")
	p := &Prices{Currency: o.word("currency"), Line: v.line}
	o.require("currency", `the currency of all prices, such as "currency: EUR"`)
	if c := o.get("currency"); c != nil && p.Currency != "" && !isCurrency(p.Currency) {
		o.wrong(c, fmt.Sprintf("currency %s is not three capital letters", shown(p.Currency)), `write its code, such as "EUR", "GBP" or "USD"`)
	}
	p.Pipe = o.bySize(o.get("pipe"), "pipe")
	p.Elbow = o.bySize(o.get("elbow"), "elbow")
	p.Wye = o.bySize(o.get("wye"), "wye")
	p.Reducer = o.bySize(o.get("reducer"), "reducer")
	p.Gate = o.bySize(o.get("gate"), "gate")
	p.Entry = o.bySize(o.get("entry"), "entry")
	p.Sealing = o.number("sealing", 0, mostMoney, math.NaN())
	p.Media = o.number("media", 0, mostMoney, math.NaN())
	if l := o.get("labour"); l != nil {
		w := r.object(l, "prices: labour", "")
		p.Labour = Labour{Pipe: w.number("pipe", 0, mostMoney, 0), Piece: w.number("piece", 0, mostMoney, 0), Sealing: w.number("sealing", 0, mostMoney, 0)}
		w.close()
	}
	o.close()
	return p
}

func isCurrency(s string) bool {
	return len(s) == 3 && strings.IndexFunc(s, func(c rune) bool { return c > unicode.MaxASCII || !unicode.IsUpper(c) }) < 0
}

// bySize reads a price for all sizes, or one for each of some: {120 mm: 14, 160 mm: 19}.
func (o *object) bySize(v *value, key string) BySize {
	switch {
	case v == nil:
		return nil
	case v.shape == scalar:
		return BySize{{Price: o.number(key, 0, mostMoney, math.NaN())}}
	case v.shape != mapping:
		o.wrong(v, fmt.Sprintf("%s is %s", key, v), fmt.Sprintf(`write one price, or one for each size: "%s: {120 mm: 14, 160 mm: 19}"`, key))
		return nil
	}
	s := o.reader.object(v, o.where+": "+key, "")
	var list BySize
	for _, p := range v.pairs {
		price := s.number(p.key.text, 0, mostMoney, math.NaN())
		d, ok := s.inLimit(p.key, "size", ductDiameter)
		if !ok {
			continue
		}
		if same := slices.IndexFunc(list, func(x SizePrice) bool { return math.Abs(x.Diameter-d) < 1e-9 }); same >= 0 {
			s.wrong(p.key, fmt.Sprintf("the size %s is given twice", plain(quantity.Length, d, "mm")), "keep one of them")
			continue
		}
		list = append(list, SizePrice{d, price})
	}
	s.close()
	slices.SortFunc(list, func(a, b SizePrice) int { return cmp.Compare(a.Diameter, b.Diameter) })
	return list
}
