package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
)

// TestTheLikelierMachineIsNamed: two drops that mostly run together are hard to tell apart, and the first guess holds no longer
// than it is the likelier one. Another kind of change needs much more.
func TestTheLikelierMachineIsNamed(t *testing.T) {
	e := demo(t)
	n := e.cols.changes
	first, second := e.cols.block0, e.cols.block0+1
	const begun, much = 8, 0.3
	for at := range 14 {
		l := mat.NewSymDense(n, nil)
		for j := range n {
			l.SetSym(j, j, 1e-3)
		}
		for _, j := range []int{first, second} { // one reading a day of both, a poor one of the second alone
			for _, k := range []int{first, second} {
				l.SetSym(j, k, 2000)
			}
		}
		l.SetSym(second, second, 2008)
		x := mat.NewVecDense(n, nil)
		if at >= begun {
			x.SetVec(second, much)
		}
		d := &dayData{at: at, info: detect.Information{Lambda: l, Eta: mat.NewVecDense(n, nil)}}
		d.info.Eta.MulVec(l, x)
		for k := range d.late {
			d.late[k] = d.info
		}
		e.days = append(e.days, d)
		e.summary = append(e.summary, Day{})
	}
	e.before = detect.NewInformation(n)
	e.addWeak(e.before, make([]float64, n))
	c := &change{col: first, onset: begun, told: 13, ended: -1, size: much}
	e.changes = []*change{c}
	e.refine(c)
	require.Greater(t, c.mass[second], c.mass[first])
	require.Less(t, c.mass[second], 20*c.mass[first], "not so sure as to overrule another kind")
	assert.Equal(t, second, c.col)
	assert.InDelta(t, much, c.size, 0.05)
	assert.False(t, e.oneQuestion(e.class(first), e.class(0)), "a leak is another kind")
}
