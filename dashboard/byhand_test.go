package dashboard

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// hand is what was set by hand.
type hand struct {
	set map[string]float64
	err error
}

func (h *hand) SetByHand(channel string, v float64) error {
	if h.err == nil {
		h.set[channel] = v
	}
	return h.err
}

// byHandReadings adds where the hands have put things.
type byHandReadings struct {
	*fake
	h *hand
}

func (b byHandReadings) Latest() map[string]reading.Reading {
	out := b.fake.Latest()
	for c, v := range b.h.set {
		out[c] = reading.Reading{Channel: c, Value: v, Time: testNow}
	}
	return out
}

// handShop has one gate and one hose that are told by hand.
func handShop(t *testing.T) (http.Handler, *hand) {
	t.Helper()
	f := newFake()
	f.shop.Collectors[0].Gates[1].Position = &shop.Source{Kind: shop.SourceByHand}
	f.shop.Collectors[0].Selectors = []*shop.Selector{{Name: "bench hose", Hose: true, Ports: []string{"router", "drill"}, Position: &shop.Source{Kind: shop.SourceByHand}}}
	h := &hand{set: map[string]float64{"gate/thicknesser gate": 1}}
	c := f.config()
	c.Positions, c.Readings = h, byHandReadings{f, h}
	handler, err := New(c)
	require.NoError(t, err)
	return handler, h
}

func TestSetByHand(t *testing.T) {
	h, hands := handShop(t)
	page := get(t, h, "/ducts").Body.String()
	assert.Contains(t, page, "<strong>thicknesser gate</strong> <span class=\"quiet\">open</span>")
	assert.Contains(t, page, "<strong>bench hose</strong> <span class=\"quiet\">not known</span>")
	assert.NotContains(t, page, `value="gate/panel saw gate"`, "this one tells by itself")

	w := send(h, "/api/v1/positions", asForm, "channel=selector/bench+hose&value=2")
	require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
	assert.InDelta(t, 2, hands.set["selector/bench hose"], 0)
	assert.Contains(t, get(t, h, "/ducts").Body.String(), "<strong>bench hose</strong> <span class=\"quiet\">drill</span>")

	assert.Equal(t, http.StatusSeeOther, send(h, "/api/v1/positions", asForm, "channel=gate/thicknesser+gate&value=unknown").Code)
	assert.True(t, math.IsNaN(hands.set["gate/thicknesser gate"]))
	w = send(h, "/api/v1/positions", asJSON, `{"channel":"gate/thicknesser gate","value":0}`)
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	assert.InDelta(t, 0, hands.set["gate/thicknesser gate"], 0)
	assert.JSONEq(t, `{"channel":"gate/thicknesser gate","value":null}`, send(h, "/api/v1/positions", asJSON, `{"channel":"gate/thicknesser gate","value":null}`).Body.String())
}

func TestSetByHandRefuses(t *testing.T) {
	h, hands := handShop(t)
	for _, body := range []string{`{"channel":"gate/panel saw gate","value":1}`, `{"channel":"main/trunk","value":1}`, `{"value":1}`, `{"gate":1}`} {
		assert.Equal(t, http.StatusBadRequest, send(h, "/api/v1/positions", asJSON, body).Code, body)
	}
	assert.Equal(t, http.StatusBadRequest, send(h, "/api/v1/positions", asForm, "channel=gate/thicknesser+gate&value=ajar").Code)
	hands.err = errors.New("port 7 is not one of 0 to 2")
	w := send(h, "/api/v1/positions", asJSON, `{"channel":"selector/bench hose","value":7}`)
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Contains(t, w.Body.String(), "not one of 0 to 2")
	hands.err = fmt.Errorf("the gate is set, but is %w: no space left", ErrNotStored)
	w = send(h, "/api/v1/positions", asJSON, `{"channel":"selector/bench hose","value":1}`)
	assert.Equal(t, http.StatusServiceUnavailable, w.Code, "nothing was wrong with what was asked")
	assert.Contains(t, w.Body.String(), "no space left")
	// Without anybody to take it, nothing can be set.
	assert.Equal(t, http.StatusBadRequest, send(newFake().handler(t), "/api/v1/positions", asJSON, `{"channel":"gate/thicknesser gate","value":1}`).Code)
}
