package dashboard

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/outbox"
)

func TestMetrics(t *testing.T) {
	for name, f := range scenes() {
		cfg := f.config()
		cfg.Delivery = &post{status: []outbox.Status{{Target: "mail", Waiting: 2, Last: testNow}}}
		h, err := New(cfg)
		require.NoError(t, err)
		r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
		r.Header.Set("Accept", "application/openmetrics-text; version=1.0.0")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Equal(t, http.StatusOK, w.Code, w.Body.String())
		assert.Contains(t, w.Header().Get("Content-Type"), "application/openmetrics-text")
		body := w.Body.String()
		assert.True(t, strings.HasSuffix(body, "# EOF\n"), name)
		assert.NotContains(t, body, "NaN", name)
		assert.Contains(t, body, `ductward_letters_waiting{target="mail"} 2.0`, name)
	}
}

func TestMetricsHaveTheNamesThatTheStandardAsksFor(t *testing.T) {
	f := newFake()
	cfg := f.config()
	s := &server{Config: cfg}
	problems, err := testutil.CollectAndLint(scrape{s})
	require.NoError(t, err)
	assert.Empty(t, problems)
	assert.Positive(t, testutil.CollectAndCount(scrape{s}, "ductward_pressure_pascals"))
	assert.Equal(t, len(f.alarms), testutil.CollectAndCount(scrape{s}, "ductward_alarm_active"))
	assert.Positive(t, testutil.CollectAndCount(scrape{s}, "ductward_machine_flow_cubic_meters_per_second"))
}
