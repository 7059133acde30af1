package dashboard

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/shop"
)

// in asks for a page as somebody who chose a system of units.
func in(t *testing.T, h http.Handler, system, path string) string {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.AddCookie(&http.Cookie{Name: unitsCookie, Value: system})
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.Equal(t, http.StatusOK, w.Code)
	return w.Body.String()
}

// TestScales holds each unit against a value that is not made of the same factor. Sources: 1 cfm is 0.47195 l/s, 1 inH2O
// (conventional) 249.089 Pa, 1 ft/min 0.00508 m/s, 1 inHg 3386.39 Pa, 1 hp 745.700 W: NIST SP 811 (2008), App. B.8; the
// freezing and boiling points of water in °F.
func TestScales(t *testing.T) {
	shown := func(c scale, v float64) float64 { return v*c.factor + c.offset }
	u := inchPoundUnits
	assert.InEpsilon(t, 1, shown(u.flow, 0.00047194745), 1e-6)
	assert.InEpsilon(t, 1, shown(u.pressure, 249.0889), 1e-6)
	assert.InEpsilon(t, 1, shown(u.velocity, 0.00508), 1e-9)
	assert.InEpsilon(t, 1, shown(u.barometer, 3386.389), 1e-6)
	assert.InEpsilon(t, 1, shown(u.power, 745.6999), 1e-6)
	assert.InEpsilon(t, 1, shown(u.opening, 0.00064516), 1e-9)
	assert.InEpsilon(t, 1, shown(u.diameter, 0.0254), 1e-9)
	assert.InDelta(t, 32, shown(u.temperature, 273.15), 1e-9)
	assert.InDelta(t, 212, shown(u.temperature, 373.15), 1e-9)
	assert.InDelta(t, 25, shown(metricUnits.temperature, 298.15), 1e-9)
	assert.InDelta(t, 3600, shown(metricUnits.flow, 1), 1e-9)
	assert.Equal(t, "68.0 ± 1.8\u00a0°F", u.temperature.in(estimate.Value{V: 293.15, SE: 1}), "a spread has no offset")
}

func TestWordsOfTheWatchInOtherUnits(t *testing.T) {
	for text, want := range map[string]string{
		"a leak of 1 240 ± 30 m3/h at 1 500 Pa":  "a leak of 730 ± 18\u00a0cfm at 6.02\u00a0inH₂O",
		"between 17 and 34 m³/h more":            "between 10 and 20\u00a0cfm more",
		"12 m/s at the slowest, where 20 m/s":    "2\u00a0400\u00a0ft/min at the slowest, where 3\u00a0900\u00a0ft/min",
		"an opening of 710 mm² on 5 Palm Street": "an opening of 1.10\u00a0in² on 5 Palm Street",
		"of 6.45 ± 0.32 cm².":                    "of 1.00 ± 0.05\u00a0in².",
		"its zero is −2.5 Pa":                    "its zero is −0.010\u00a0inH₂O",
		"gate 4 and 2 days, 3 %":                 "gate 4 and 2 days, 3 %",
	} {
		assert.Equal(t, want, inchPoundUnits.words(text))
		assert.Equal(t, text, metricUnits.words(text))
	}
}

// metricLeft finds a number with a metric unit that stands in a page.
var metricLeft = regexp.MustCompile(`[0-9][ \x{00a0}](m³/h|m3/h|Pa|kPa|hPa|m/s|mm²|cm²|mm|°C|kW)\b`)

// TestAPageHasOneSystemOfUnits, in every scene and on every page.
func TestAPageHasOneSystemOfUnits(t *testing.T) {
	for name, f := range scenes() {
		h := f.handler(t)
		for _, path := range append(paths(), "/live/now", "/charts/leaks?c=main") {
			if name == "empty" && strings.HasPrefix(path, "/charts/") {
				continue
			}
			page := in(t, h, shop.InchPound, path)
			assert.Empty(t, metricLeft.FindString(page), name+path)
			assert.NotContains(t, page, "NaN", name+path)
		}
	}
	page := in(t, newFake().handler(t), shop.InchPound, "/ducts")
	for _, unit := range []string{"cfm", "ft/min", "inH₂O", "⌀ is in in."} {
		assert.Contains(t, page, unit)
	}
	assert.Contains(t, in(t, newFake().handler(t), shop.InchPound, "/history"), "inH₂O")
	assert.Contains(t, in(t, newFake().handler(t), shop.InchPound, "/sensors"), "64.9\u00a0°F") // 291.4 K: 64.85
}

func TestUnitsAreTheOwnersUntilSomebodyChooses(t *testing.T) {
	f := newFake()
	assert.Contains(t, get(t, f.handler(t), "/").Body.String(), "m³/h")
	f.shop.Site.Units = shop.InchPound
	h := f.handler(t)
	assert.Contains(t, get(t, h, "/").Body.String(), "cfm")
	assert.Contains(t, in(t, h, shop.Metric, "/"), "m³/h")
	assert.Contains(t, in(t, h, "furlongs", "/"), "cfm", "a choice that there is not")
	assert.Contains(t, in(t, h, shop.Metric, "/live/now"), "m³/h")
	assert.Contains(t, in(t, h, shop.InchPound, "/live/now"), "cfm", "one memo for each")

	w := send(h, "/units", asForm, "units=metric&back=%2Fhistory%3Fch%3Dmain%252Ftrunk")
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, "/history?ch=main%2Ftrunk", w.Header().Get("Location"))
	cookie := w.Result().Cookies()[0]
	assert.Equal(t, shop.Metric, cookie.Value)
	assert.True(t, cookie.HttpOnly)
	assert.Equal(t, http.StatusBadRequest, send(h, "/units", asForm, "units=furlongs").Code)
	for _, back := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`, "logbook", "%"} {
		assert.Equal(t, "/", backTo(back), back)
	}
	assert.Contains(t, get(t, h, "/history?ch=main%2Ftrunk").Body.String(), `name="back" value="/history?ch=main%2Ftrunk"`)
	assert.Contains(t, send(h, "/units", asForm, "units=furlongs").Body.String(), `name="back" value="/"`, "an answer is no page to come back to")
	assert.NotContains(t, in(t, h, shop.InchPound, "/history.csv"), "inH", "files are SI")
	assert.Equal(t, 1500.0, at(object(t, h, "/api/v1/state"), "reference_suction_pa"))
}
