package mqttin

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"time"

	"ductward/internal/clock"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// Broker says how to reach a broker.
type Broker struct {
	URL      string // tcp://host:port or ssl://host:port
	ClientID string // must be this connection's own: a broker drops the older of two of one name
	Username string
	Password string
	TLS      *tls.Config // for ssl; nil: the board's own roots
}

// Times of the connection.
const (
	connectTimeout = 10 * time.Second
	keepAlive      = 20 * time.Second
	answerTimeout  = 10 * time.Second // the client's own waits may hang, so each is bounded here
	goodbye        = 250              // ms for the last packets
	firstRetry     = time.Second
	lastRetry      = 30 * time.Second
	logAgain       = time.Hour
	checkEvery     = time.Second
)

// Subscriber listens to a broker for the topics of an inbox. It connects again by itself and publishes nothing.
//
// The client library could connect again by itself too, but its goroutines then sleep on for up to half a minute after
// they are told to end. So each connection has a client of its own, and the loop is here.
type Subscriber struct {
	broker Broker
	inbox  *Inbox
	clock  clock.Clock
	log    *slog.Logger
}

// NewSubscriber returns a subscriber that fills the inbox.
func NewSubscriber(b Broker, inbox *Inbox, c clock.Clock, log *slog.Logger) *Subscriber {
	return &Subscriber{broker: b, inbox: inbox, clock: c, log: log}
}

// Run listens until the context ends, and returns its error; a broker that is not there is waited for. Values that have
// become too old are looked for meanwhile.
func (s *Subscriber) Run(ctx context.Context) error {
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.watch(ctx)
	}()
	defer func() { <-done }()

	wait, failures, told := firstRetry, 0, time.Time{}
	for {
		began := time.Now()
		err := s.session(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if time.Since(began) > time.Minute { // it worked for a while: this is a new trouble
			wait, failures = firstRetry, 0
		}
		failures++
		if failures == 1 || time.Since(told) > logAgain {
			told = time.Now()
			s.log.Warn("no connection to the broker", "broker", s.broker.URL, "cause", err, "attempts", failures)
		}
		if pause(ctx, wait) != nil {
			return ctx.Err()
		}
		wait = min(2*wait, lastRetry)
	}
}

// watch looks for values that have become too old.
func (s *Subscriber) watch(ctx context.Context) {
	for pause(ctx, checkEvery) == nil {
		at := s.stamp(false)
		s.inbox.Check(at.Mono, at.Time)
	}
}

// session makes one connection and returns when it is lost, could not be made, or the context ends.
func (s *Subscriber) session(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // closes the connection whatever the client does
	lost := make(chan error, 1)
	client := mqtt.NewClient(s.options(ctx, lost))
	defer s.inbox.SetOnline(false)
	defer client.Disconnect(goodbye)
	if err := s.answer(ctx, client.Connect()); err != nil {
		return fmt.Errorf("connect: %w", err)
	}
	filters := map[string]byte{}
	for _, t := range s.inbox.decoder.Topics() {
		filters[t] = 1
	}
	if err := s.answer(ctx, client.SubscribeMultiple(filters, nil)); err != nil {
		return fmt.Errorf("subscribe: %w", err)
	}
	s.inbox.SetOnline(true)
	s.log.Info("listening", "broker", s.broker.URL, "topics", len(filters))
	select {
	case err := <-lost:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *Subscriber) options(ctx context.Context, lost chan<- error) *mqtt.ClientOptions {
	return mqtt.NewClientOptions().AddBroker(s.broker.URL).SetClientID(s.broker.ClientID).
		SetUsername(s.broker.Username).SetPassword(s.broker.Password).
		SetProtocolVersion(4). // MQTT 3.1.1
		SetCleanSession(true). // what was published while nobody listened is old
		SetAutoReconnect(false).SetConnectRetry(false).
		SetConnectTimeout(connectTimeout).SetKeepAlive(keepAlive).
		SetCustomOpenConnectionFn(func(u *url.URL, _ mqtt.ClientOptions) (net.Conn, error) { return s.dial(ctx, u) }).
		SetDefaultPublishHandler(s.message).
		SetConnectionLostHandler(func(_ mqtt.Client, err error) {
			select {
			case lost <- err:
			default:
			}
		})
}

// dial opens a connection that ends with the context.
func (s *Subscriber) dial(ctx context.Context, u *url.URL) (net.Conn, error) {
	d := &net.Dialer{Timeout: connectTimeout}
	var conn net.Conn
	var err error
	switch u.Scheme {
	case "tcp", "mqtt":
		conn, err = d.DialContext(ctx, "tcp", u.Host)
	case "ssl", "tls", "mqtts":
		conn, err = (&tls.Dialer{NetDialer: d, Config: s.broker.TLS}).DialContext(ctx, "tcp", u.Host)
	default:
		return nil, fmt.Errorf("broker %q: write tcp://host:port or ssl://host:port", s.broker.URL)
	}
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { conn.Close() })
	return &guarded{Conn: conn}, nil
}

// answer waits for the broker's answer, but not for ever.
func (s *Subscriber) answer(ctx context.Context, token mqtt.Token) error {
	timer := time.NewTimer(answerTimeout)
	defer timer.Stop()
	select {
	case <-token.Done():
		return token.Error()
	case <-timer.C:
		return errors.New("the broker does not answer")
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *Subscriber) message(_ mqtt.Client, m mqtt.Message) {
	s.inbox.Deliver(m.Topic(), m.Payload(), s.stamp(m.Retained()))
}

func (s *Subscriber) stamp(retained bool) Stamp {
	at := Stamp{Mono: s.clock.Mono(), Retained: retained}
	if s.clock.Trusted() {
		at.Time = s.clock.Now()
	}
	return at
}

// pause waits in real time: a broker is real even where the readings' clock is not.
func pause(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
