package improve

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// TestUsualSetsOfTheDemo: nine machines, two of them on one hose, so that 35 of the 36 pairs can be, and all together in
// two ways.
func TestUsualSetsOfTheDemo(t *testing.T) {
	c := load(t, "../../hardware/rig/shop.yaml").Collectors[0]
	a, err := Of(c, Question{})
	require.NoError(t, err)
	require.Len(t, a.Sets, 9+35+2)
	sizes := map[int]int{}
	for _, s := range a.Sets {
		sizes[len(s.Machines)]++
		assert.False(t, contains(s, "spindle moulder") && contains(s, "tenoner"), "they share a hose")
	}
	assert.Equal(t, map[int]int{1: 9, 2: 35, 8: 2}, sizes)
	assert.Equal(t, "all machines but tenoner together", a.Sets[44].Name())
	assert.Equal(t, "with mortiser open too", Set{Machines: []string{"band saw", "mortiser"}}.Beside("band saw"))
	assert.Equal(t, "alone", Set{Machines: []string{"band saw"}}.Beside("band saw"))
}

func contains(s Set, machine string) bool {
	for _, m := range s.Machines {
		if m == machine {
			return true
		}
	}
	return false
}

// TestSetsBeyondTheCollector: what all machines together need is more than the fan moves without ducts. Nobody is needy
// there, unless the owner asks.
func TestSetsBeyondTheCollector(t *testing.T) {
	c := load(t, "testdata/poor.yaml").Collectors[0]
	a, err := Of(c, Question{})
	require.NoError(t, err)
	all := a.Sets[len(a.Sets)-1]
	require.Len(t, all.Machines, 4)
	require.True(t, all.Beyond)
	require.Greater(t, all.Needs, a.Bare)
	require.False(t, all.Counts())
	for _, n := range a.Needy {
		assert.NotEqual(t, all.Machines, n.Worst.Machines)
	}
	asked, err := Of(c, Question{Sets: []Set{{Setting: all.Setting, Asked: true}}})
	require.NoError(t, err)
	assert.True(t, asked.Sets[0].Beyond && asked.Sets[0].Counts())
	assert.Len(t, asked.Needy, 3, "the router table has what it needs even then")
}

// TestBareFlowIsABound: no set of gates of the drawing, nor of any drawing that a change makes, moves more air.
func TestBareFlowIsABound(t *testing.T) {
	for _, c := range drawn(t) {
		a, err := Of(c, Question{})
		require.NoError(t, err)
		for _, ch := range changes(c, 1) {
			if ch.kind == LargerFilter || ch.kind == FanInlet || ch.kind == Discharge {
				continue // these change the collector itself
			}
			x := tryOne(newDraft(c, 1), ch, a.Sets, questionState)
			require.NoError(t, x.err)
			for i, o := range x.trial {
				sum := 0.0
				for k := range c.Machines {
					sum += o.flow[k]
				}
				require.Less(t, sum, a.Bare, "m³/s, %s with %s", ch.text, a.Sets[i].Name())
			}
		}
	}
}

// TestAGateThatIsAlwaysShut leaves its machine out and says so.
func TestAGateThatIsAlwaysShut(t *testing.T) {
	c := load(t, "testdata/poor.yaml").Collectors[0]
	c.Gate("band gate").Position = &shop.Source{Kind: shop.SourceFixed, Fixed: false}
	a, err := Of(c, Question{})
	require.NoError(t, err)
	assert.Equal(t, []string{"band saw"}, a.Locked)
	assert.Len(t, a.Sets, 3+3+1)
}
