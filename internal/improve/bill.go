package improve

import (
	"math"

	"ductward/internal/shop"
)

// ware is what a change needs.
type ware int

// The wares, in the words of the price list.
const (
	pipe ware = iota
	elbow
	wye
	reducer
	gate
	entry
	sealing
	media
)

// wares are the words of the price list for them.
var wares = [...]string{"pipe", "elbow", "wye", "reducer", "gate", "entry", "sealing", "media"}

// Item is one line of what a change needs.
type Item struct {
	What     string  // in the words of the price list
	Diameter float64 // m; 0: it has none
	Amount   float64 // m of pipe, m² of sealing and media, or pieces
	Each     float64 // the price of one, labour included; NaN: not in the list
	ware     ware
}

// bill is all that a change needs.
type bill []Item

// add puts something on the bill, together with what is there already of the same kind and size.
func (b *bill) add(w ware, diameter, amount float64) {
	for i := range *b {
		if (*b)[i].ware == w && alike((*b)[i].Diameter, diameter) {
			(*b)[i].Amount += amount
			return
		}
	}
	*b = append(*b, Item{What: wares[w], Diameter: diameter, Amount: amount, ware: w})
}

// priced is the bill with prices, what it comes to, and what has no price; then it comes to NaN.
func (b bill) priced(p *shop.Prices) (items []Item, cost float64, without []string) {
	for _, i := range b {
		i.Each = math.NaN()
		if p != nil {
			i.Each = each(p, i)
			if math.IsNaN(i.Each) {
				without = append(without, i.What)
			}
		}
		cost += i.Amount * i.Each
		items = append(items, i)
	}
	if p == nil {
		cost = math.NaN()
	}
	return items, cost, without
}

// each is the price of one piece, metre or square metre with its labour.
func each(p *shop.Prices, i Item) float64 {
	switch i.ware {
	case pipe:
		return p.Pipe.At(i.Diameter) + p.Labour.Pipe
	case sealing:
		return p.Sealing + p.Labour.Sealing
	case media:
		return p.Media
	}
	list := map[ware]shop.BySize{elbow: p.Elbow, wye: p.Wye, reducer: p.Reducer, gate: p.Gate, entry: p.Entry}[i.ware]
	return list.At(i.Diameter) + p.Labour.Piece
}
