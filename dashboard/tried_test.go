package dashboard

import (
	"math"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/verdict"
)

// TestGatesAreTriedOnScreen: page and JSON tell what the model makes of them, with the filter as it is, and that no gate is moved.
func TestGatesAreTriedOnScreen(t *testing.T) {
	f := fromFile(t, "../hardware/rig/shop.yaml", "edge sander")
	f.collector().Now.Filter = val(1.5, 0.01)
	h := f.handler(t)
	plan, site := f.shop.Collectors[0], f.shop.Site
	m, err := duct.New(plan)
	require.NoError(t, err)
	setting, err := verdict.Opening(plan, "tenoner", "bench saw")
	require.NoError(t, err)
	of, err := air.At(site.Temperature, air.PressureAt(site.Altitude), site.Humidity)
	require.NoError(t, err)
	want, err := m.Solve(duct.State{Setting: setting, Air: of, FilterRatio: 1.5})
	require.NoError(t, err)

	o := object(t, h, "/api/v1/airflow?open=tenoner&open=bench+saw")
	assert.Equal(t, []any{"bench saw gate", "moulder gate"}, o["open"])
	assert.Equal(t, "yes", o["borne"], "the demo's ducts are rated for the fan's shut-off pressure")
	assert.InDelta(t, 1.5, o["filter_resistance_ratio"], 0)
	for i, x := range want.Machines {
		assert.Equal(t, x.Name, at(o, "machines", i, "name"))
		assert.Equal(t, x.Open, at(o, "machines", i, "open"))
		assert.InDelta(t, x.Flow, at(o, "machines", i, "flow_m3_s"), 1e-12)
		assert.InDelta(t, drawingDoubt*math.Abs(x.Flow), at(o, "machines", i, "flow_m3_s_sd"), 1e-12)
	}
	for i, x := range want.Runs {
		assert.InDelta(t, x.Flow, at(o, "runs", i, "flow_m3_s"), 1e-12)
		assert.InDelta(t, x.StaticEnd, at(o, "runs", i, "static_pa"), 1e-9)
	}

	page := get(t, h, "/ducts?try=main&open=tenoner&open=bench+saw").Body.String()
	for _, words := range []string{"Gates that are tried on screen", "Open: tenoner, bench saw", "The ducts are rated to bear it.", "No gate is moved by this.", "at 150\u00a0% of a clean one’s",
		"No machine may cut", "Back to the gates as they are", `value="tenoner" checked`} {
		assert.Contains(t, page, words)
	}
	assert.NotContains(t, page, `value="edge sander" checked`, "that one is open, and is not tried")
	assert.Contains(t, get(t, h, "/ducts").Body.String(), `value="edge sander" checked`, "one begins with the gates as they are")
}

// TestWhatTheDuctsMayNotBearIsSaid, by the largest suction that a set of gates can have.
func TestWhatTheDuctsMayNotBearIsSaid(t *testing.T) {
	for rating, want := range map[float64]string{4000: "rated to bear it", 1500: "Do not run it", math.NaN(): "is not known"} {
		f := fromFile(t, "../hardware/rig/shop.yaml")
		f.shop.Collectors[0].Rating = rating
		h := f.handler(t)
		for _, query := range []string{"", "&open=mortiser"} {
			assert.Contains(t, get(t, h, "/ducts?try=main"+query).Body.String(), want, "%v Pa %s", rating, query)
		}
	}
}

func TestWhatCannotBeTriedIsSaid(t *testing.T) {
	h := fromFile(t, "../hardware/rig/shop.yaml").handler(t)
	for _, open := range [][]string{{"tenoner", "spindle moulder"}, {"lathe"}} { // the first two have one hose
		q := url.Values{"try": {"main"}, "open": open}.Encode()
		page := get(t, h, "/ducts?"+q)
		assert.Equal(t, http.StatusOK, page.Code)
		assert.Contains(t, page.Body.String(), open[len(open)-1])
		assert.NotContains(t, page.Body.String(), "tried on screen</text>")
		assert.Equal(t, http.StatusBadRequest, get(t, h, "/api/v1/airflow?"+q).Code)
	}
	assert.Equal(t, http.StatusNotFound, get(t, h, "/api/v1/airflow?collector=none").Code)
	bare := newFake()
	bare.shop.Collectors[0].Network = nil
	assert.Equal(t, http.StatusNotFound, get(t, bare.handler(t), "/api/v1/airflow").Code)
	assert.NotContains(t, get(t, bare.handler(t), "/ducts").Body.String(), "Try other gates")
}
