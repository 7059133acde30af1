package duct_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
)

// One model, asked by many at once, gives each the very answer that a fresh model gives: what a solve leaves behind in
// its memory does not touch the next one, to the last bit.
func TestManyAtOnce(t *testing.T) {
	c := randomShop(newDice(2), 6, false)
	shared := model(t, c)
	sets := uint64(1) << len(c.Gates)
	var all sync.WaitGroup
	for worker := range uint64(4) {
		all.Add(1)
		go func() {
			defer all.Done()
			for k := range sets {
				bits := (k*7 + worker*13) % sets
				st := duct.State{Setting: setting(c, bits), FilterRatio: 1 + float64(worker)}
				got, err := shared.Solve(st)
				if !assert.NoError(t, err) {
					return
				}
				fresh, err := duct.New(c)
				if !assert.NoError(t, err) {
					return
				}
				want, err := fresh.Solve(st)
				if !assert.NoError(t, err) {
					return
				}
				assert.Equal(t, want.Sensors, got.Sensors)
				assert.Equal(t, want.Runs, got.Runs)
			}
		}()
	}
	all.Wait()
}

// A result stays what it was while the model goes on solving.
func TestResultIsNotTouched(t *testing.T) {
	c := randomShop(newDice(4), 4, false)
	m := model(t, c)
	st := duct.State{Setting: setting(c, 0b0101)}
	first := solve(t, m, st)
	flow := first.FanFlow
	before, err := m.Sensitivity(first, []duct.Param{{Kind: duct.LogFilter}})
	require.NoError(t, err)
	for bits := range uint64(16) {
		solve(t, m, duct.State{Setting: setting(c, bits), FilterRatio: 3})
	}
	for gate := range st.Setting.Open { // the caller goes on with his map
		st.Setting.Open[gate] = true
	}
	assert.Equal(t, flow, first.FanFlow)
	after, err := m.Sensitivity(first, []duct.Param{{Kind: duct.LogFilter}})
	require.NoError(t, err)
	assert.Equal(t, before, after)
}
