package hardware

import (
	"math"
	"sync/atomic"
)

// ambient is the absolute pressure of the room in Pa, shared by the chips whose reading depends on it.
type ambient struct{ bits atomic.Uint64 }

func (a *ambient) set(pa float64) { a.bits.Store(math.Float64bits(pa)) }
func (a *ambient) get() float64   { return math.Float64frombits(a.bits.Load()) }
