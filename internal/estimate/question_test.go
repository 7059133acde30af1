package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
)

// record gives an estimator days of nothing but information, whose truth a function tells: of the day, by column.
func record(e *Estimator, days int, info *mat.SymDense, truth func(day int, x *mat.VecDense)) {
	n := e.cols.changes
	for at := range days {
		x := mat.NewVecDense(n, nil)
		truth(at, x)
		d := &dayData{at: at, info: detect.Information{Lambda: info, Eta: mat.NewVecDense(n, nil)}}
		d.info.Eta.MulVec(info, x)
		for k := range d.late {
			if at >= days-lateDays {
				d.late[k] = d.info
			}
		}
		e.days = append(e.days, d)
		e.summary = append(e.summary, Day{})
	}
	e.before = detect.NewInformation(n)
	e.addWeak(e.before, make([]float64, n))
}

// little is information that says next to nothing.
func little(n int) *mat.SymDense {
	l := mat.NewSymDense(n, nil)
	for j := range n {
		l.SetSym(j, j, 1e-3)
	}
	return l
}

// TestTheLikelierMachineIsNamed: two drops that mostly run together are hard to tell apart, and the first guess holds no longer
// than it is the likelier one. Another kind of change needs much more.
func TestTheLikelierMachineIsNamed(t *testing.T) {
	e := demo(t)
	first, second := e.cols.block0, e.cols.block0+1
	const begun, much = 8, 0.3
	info := little(e.cols.changes) // one reading a day of both, a poor one of the second alone
	info.SetSym(first, first, 2000)
	info.SetSym(first, second, 2000)
	info.SetSym(second, second, 2008)
	record(e, 14, info, func(day int, x *mat.VecDense) {
		if day >= begun {
			x.SetVec(second, much)
		}
	})
	c := &change{col: first, onset: begun, told: 13, ended: -1, size: much}
	e.changes = []*change{c}
	e.refine(c)
	require.Greater(t, c.mass[second], c.mass[first])
	require.Less(t, c.mass[second], 20*c.mass[first], "not so sure as to overrule another kind")
	assert.Equal(t, second, c.col)
	assert.InDelta(t, much, c.size, 0.05)
	assert.False(t, e.oneQuestion(e.class(first), e.class(0)), "a leak is another kind")
}

// TestAChangeThatWentBackIsAsLargeAsItWas: until that is known, the days since make it look smaller.
func TestAChangeThatWentBackIsAsLargeAsItWas(t *testing.T) {
	e := demo(t)
	col := e.cols.block0
	const begun, back, much = 8, 14, 0.3
	info := little(e.cols.changes)
	info.SetSym(col, col, 2000)
	record(e, 17, info, func(day int, x *mat.VecDense) {
		if day >= begun && day < back {
			x.SetVec(col, much)
		}
	})
	c := &change{col: col, onset: begun, told: begun, ended: -1, size: much}
	e.changes = []*change{c}
	e.refine(c)
	require.Less(t, c.size, 0.9*much)
	e.refineUntil(c, back)
	assert.InDelta(t, much, c.size, 0.02)
	assert.InDelta(t, much, c.mean, 0.02)
	assert.Len(t, e.days, 17)
}
