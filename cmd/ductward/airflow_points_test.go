package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// humpedShop has a fan whose curve rises steeply in the middle, on one duct.
const humpedShop = `shop: Hump
collectors:
  - collector: main
    fan:
      position: after filter
      curve:
        - {flow: 0 m3/h, pressure: 200 Pa}
        - {flow: 720 m3/h, pressure: 260 Pa}
        - {flow: 936 m3/h, pressure: 1900 Pa}
        - {flow: 1260 m3/h, pressure: 2000 Pa}
        - {flow: 2880 m3/h, pressure: 300 Pa}
    filter: {area: 10 m2, clean: {drop: 100 Pa, flow: 1800 m3/h}, limit: 800 Pa}
    separator: none
    discharge: room
    machines: [{machine: saw, needs: 800 m3/h}]
    ducts:
      tightness: none
      runs:
        - {run: duct, from: saw, to: collector, diameter: 150 mm, length: 0.1 m, fittings: [{loss: 6}]}
`

// A fan that may come to rest at several flows says so, in both forms.
func TestAirflowTellsOtherWorkingPoints(t *testing.T) {
	path := write(t, "shop.yaml", humpedShop)
	var answer struct {
		Collectors []struct {
			Fan struct {
				Flow float64 `json:"flow_m3_s"`
			}
			Others []struct {
				Flow   float64 `json:"flow_m3_s"`
				Stable bool
			} `json:"other_working_points"`
		}
	}
	r := call(t, "airflow", path, "--json")
	require.Zero(t, r.code, r.errOut)
	require.NoError(t, json.Unmarshal([]byte(r.out), &answer))
	others := answer.Collectors[0].Others
	require.Len(t, others, 2)
	stable := 0
	for _, p := range others {
		assert.NotEqual(t, answer.Collectors[0].Fan.Flow, p.Flow)
		if p.Stable {
			stable++
		}
	}
	assert.Positive(t, stable)
	table := strings.Join(strings.Fields(call(t, "airflow", path).out), " ")
	assert.Contains(t, table, "fan and ducts are in balance at")
	assert.Contains(t, table, "where the fan does not stay")
}
