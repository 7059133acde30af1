package deliver

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/credential"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// posted is what is posted. Its outer three keys, the headers and the signature are those of the specification Standard
// Webhooks 1.0.
type posted struct {
	Type string     `json:"type"`
	At   time.Time  `json:"timestamp"`
	Data postedData `json:"data"`
}

type postedData struct {
	ID       string           `json:"id"`
	Boot     uint32           `json:"boot"`
	Seq      uint64           `json:"seq"` // of this target, rising
	Shop     string           `json:"shop"`
	Subject  string           `json:"subject"`
	Text     string           `json:"text"`
	Event    alarm.Event      `json:"event,omitempty"`
	Priority finding.Priority `json:"priority,omitempty"`
	CAP      *capWords        `json:"cap,omitempty"`
	Alarm    *alarm.Alarm     `json:"alarm,omitempty"`

	Advice *diagnosis.Advice `json:"advice,omitempty"` // about the alarm's kind of trouble
}

// capWords says the same in the words of the Common Alerting Protocol, OASIS CAP 1.2 sections 3.2.1 and 3.2.2.
type capWords struct {
	MsgType   string `json:"msgType"`
	Urgency   string `json:"urgency"`
	Severity  string `json:"severity"`
	Certainty string `json:"certainty"`
}

func newCAP(l *outbox.Letter) *capWords {
	if l.Kind != outbox.Alarm {
		return nil
	}
	w := &capWords{MsgType: "Update", Urgency: "Expected", Severity: "Minor", Certainty: "Likely"} // likely: over one half
	switch {
	case l.Event == alarm.Raised:
		w.MsgType = "Alert"
	case l.Event == alarm.Cleared:
		w.MsgType, w.Urgency = "Cancel", "Past"
		return w
	}
	switch l.Priority {
	case finding.ActToday:
		w.Urgency, w.Severity = "Immediate", "Moderate"
	case finding.Plan:
		w.Urgency = "Future"
	}
	return w
}

// Sign returns the signature of Standard Webhooks 1.0: HMAC-SHA-256 over "id.timestamp.body", in base64 behind "v1,".
func Sign(key []byte, id string, at int64, body []byte) string {
	h := hmac.New(sha256.New, key)
	_, _ = fmt.Fprintf(h, "%s.%d.", id, at) // a hash takes everything
	_, _ = h.Write(body)
	return "v1," + base64.StdEncoding.EncodeToString(h.Sum(nil))
}

// signingKey reads a secret as Standard Webhooks writes it, "whsec_" and base64, or takes its bytes as they are.
func signingKey(secret string) ([]byte, error) {
	text, ok := strings.CutPrefix(secret, "whsec_")
	key := []byte(secret)
	if ok {
		var err error
		if key, err = base64.StdEncoding.DecodeString(text); err != nil {
			return nil, errors.New(`the secret begins with "whsec_", and what follows is not base64`)
		}
	}
	if len(key) < 16 {
		return nil, fmt.Errorf("the secret has %d bytes: make one of 24 or more, as with \"openssl rand -base64 32\"", len(key))
	}
	return key, nil
}

func newWebhook(w *shop.Webhook) (*Target, error) {
	u, err := url.Parse(w.URL)
	if err != nil {
		return nil, fmt.Errorf("%s: the address cannot be read", w.Target())
	}
	secret, err := credential.Secret(w.Target(), w.Secret)
	if err != nil {
		return nil, err
	}
	key, err := signingKey(secret)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", w.Target(), err)
	}
	conf, err := credential.Authorities(w.Target(), w.CAFile, "")
	if err != nil {
		return nil, err
	}
	transport := &http.Transport{Proxy: http.ProxyFromEnvironment, TLSClientConfig: conf, DisableKeepAlives: true,
		TLSHandshakeTimeout: limit, ForceAttemptHTTP2: true}
	client := &http.Client{Transport: transport,
		// What was signed for one address is not sent to another.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	return &Target{Name: w.Target(), Host: u.Host, send: func(ctx context.Context, it *outbox.Item) error {
		return post(ctx, client, w.URL, key, it)
	}}, nil
}

// post makes one attempt at a webhook.
func post(ctx context.Context, client *http.Client, address string, key []byte, it *outbox.Item) error {
	l := &it.Letter
	var advice *diagnosis.Advice
	if l.Alarm != nil && l.Event.Asks() {
		known := diagnosis.For(l.Alarm.Kind())
		advice = &known
	}
	body, err := json.Marshal(posted{string(l.Kind), l.At, postedData{ID: l.ID, Boot: l.Boot, Seq: it.Number, Shop: l.Shop,
		Subject: l.Subject, Text: l.Text, Event: l.Event, Priority: l.Priority, CAP: newCAP(l), Alarm: l.Alarm, Advice: advice}})
	if err != nil {
		return fmt.Errorf("%w: it cannot be written as JSON: %w", outbox.ErrRefused, err)
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(body))
	if err != nil {
		return errors.New("the address cannot be used")
	}
	id := "msg_" + identity(l)
	now := time.Now().Unix() // of the attempt: receivers refuse what was signed long ago
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("User-Agent", "ductward")
	r.Header.Set("webhook-id", id)
	r.Header.Set("webhook-timestamp", strconv.FormatInt(now, 10))
	r.Header.Set("webhook-signature", Sign(key, id, now, body))
	answer, err := client.Do(r)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // without the address
		}
		return err
	}
	defer func() { _ = answer.Body.Close() }() // nobody reads it
	_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, 64<<10))
	if answer.StatusCode/100 == 2 {
		return nil
	}
	err = fmt.Errorf("it answers %s", answer.Status)
	if slices.Contains(aboutTheLetter, answer.StatusCode) {
		err = fmt.Errorf("%w: %w", outbox.ErrRefused, err)
	}
	return err
}

// aboutTheLetter are the answers that no other attempt will change; all others may be about the receiver's day.
var aboutTheLetter = []int{http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType,
	http.StatusUnprocessableEntity}
