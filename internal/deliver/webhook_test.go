package deliver

import (
	"crypto/tls"
	"encoding/base64"
	"encoding/json"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// The example of the specification Standard Webhooks (in the tests of its reference libraries).
func TestSignatureIsThatOfTheSpecification(t *testing.T) {
	key, err := signingKey("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw")
	require.NoError(t, err)
	got := Sign(key, "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, []byte(`{"test": 2432232314}`))
	assert.Equal(t, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=", got)
}

func TestKeysThatAreNone(t *testing.T) {
	for secret, says := range map[string]string{"short": "24 or more", "whsec_%%%": "not base64", "whsec_YWJj": "has 3 bytes"} {
		_, err := signingKey(secret)
		require.ErrorContains(t, err, says)
		assert.NotContains(t, err.Error(), "abc")
	}
}

const hookSecret = "beech-and-walnut-and-oak"

// receiver is an HTTP receiver with TLS, and a webhook that leads to it.
func receiver(t *testing.T, handle http.HandlerFunc) *Target {
	t.Helper()
	cert, ca := certificate(t)
	s := httptest.NewUnstartedServer(handle)
	s.TLS = &tls.Config{Certificates: []tls.Certificate{cert}}
	s.StartTLS()
	t.Cleanup(s.Close)
	target, err := newWebhook(&shop.Webhook{Name: "office", URL: s.URL + "/hooks/se-cret?token=hidden", CAFile: ca,
		Secret: shop.Secret{File: secretFile(t, hookSecret)}})
	require.NoError(t, err)
	return target
}

func TestAWebhookIsSigned(t *testing.T) {
	var got posted
	var ids []string
	target := receiver(t, func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		assert.NoError(t, err)
		at, err := strconv.ParseInt(r.Header.Get("webhook-timestamp"), 10, 64)
		assert.NoError(t, err)
		assert.InDelta(t, time.Now().Unix(), at, 5)
		assert.Equal(t, Sign([]byte(hookSecret), r.Header.Get("webhook-id"), at, body), r.Header.Get("webhook-signature"))
		assert.Regexp(t, "^msg_[0-9a-f]{32}$", r.Header.Get("webhook-id"))
		ids = append(ids, r.Header.Get("webhook-id"))
		assert.Equal(t, "application/json", r.Header.Get("Content-Type"))
		assert.NoError(t, json.Unmarshal(body, &got))
		w.WriteHeader(http.StatusNoContent)
	})
	require.NoError(t, target.Send(t.Context(), leak()))
	require.NoError(t, target.Send(t.Context(), leak()))
	assert.Equal(t, ids[0], ids[1], "the same at every attempt")
	assert.Equal(t, "main/leak-7.1.raised", got.Data.ID)
	assert.Equal(t, "alarm", got.Type)
	assert.Equal(t, uint64(42), got.Data.Seq)
	assert.Equal(t, uint32(3), got.Data.Boot)
	assert.Equal(t, alarm.ActiveUnacknowledged, got.Data.Alarm.State)
	assert.Equal(t, capWords{"Alert", "Immediate", "Moderate", "Likely"}, *got.Data.CAP)
}

func TestAnswersOfAReceiver(t *testing.T) {
	for _, c := range []struct {
		status  int
		taken   bool
		refused bool
	}{{200, true, false}, {202, true, false}, {301, false, false}, {307, false, false}, {400, false, true}, {401, false, false},
		{404, false, false}, {413, false, true}, {429, false, false}, {500, false, false}, {503, false, false}} {
		calls := 0
		target := receiver(t, func(w http.ResponseWriter, r *http.Request) {
			calls++
			w.Header().Set("Location", "/elsewhere")
			w.WriteHeader(c.status)
		})
		err := target.Send(t.Context(), leak())
		assert.Equal(t, c.taken, err == nil, c.status)
		assert.Equal(t, 1, calls, "%d: one attempt, and none elsewhere", c.status)
		if err == nil {
			continue
		}
		assert.Equal(t, c.refused, assert.ErrorIs(&testing.T{}, err, outbox.ErrRefused), c.status)
		for _, secret := range []string{"se-cret", "hidden", "beech", base64.StdEncoding.EncodeToString([]byte(hookSecret))} {
			assert.NotContains(t, err.Error(), secret)
		}
	}
}

func TestAReceiverThatIsAwayOrAnother(t *testing.T) {
	target, err := newWebhook(&shop.Webhook{Name: "office", URL: "https://127.0.0.1:1/hooks/se-cret", Secret: shop.Secret{File: secretFile(t, hookSecret)}})
	require.NoError(t, err)
	err = target.Send(t.Context(), leak())
	require.ErrorContains(t, err, "refused")
	assert.NotContains(t, err.Error(), "se-cret")

	s := httptest.NewTLSServer(http.NotFoundHandler()) // whose certificate nobody here knows
	defer s.Close()
	s.Config.ErrorLog = log.New(io.Discard, "", 0)
	target, err = newWebhook(&shop.Webhook{Name: "office", URL: s.URL, Secret: shop.Secret{File: secretFile(t, hookSecret)}})
	require.NoError(t, err)
	assert.ErrorContains(t, target.Send(t.Context(), leak()), "certificate")
}

func TestWordsOfTheAlertingProtocol(t *testing.T) {
	l := leak().Letter
	l.Event = alarm.Cleared
	assert.Equal(t, capWords{"Cancel", "Past", "Minor", "Likely"}, *newCAP(&l))
	l.Event, l.Priority = alarm.Raised, finding.Plan
	assert.Equal(t, capWords{"Alert", "Future", "Minor", "Likely"}, *newCAP(&l))
	l.Event, l.Priority = alarm.Acknowledged, finding.Instrument
	assert.Equal(t, capWords{"Update", "Expected", "Minor", "Likely"}, *newCAP(&l))
	assert.Nil(t, newCAP(&outbox.Letter{Kind: outbox.Heartbeat}))
}
