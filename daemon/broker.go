package daemon

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net/url"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"ductward/internal/credential"
	"ductward/internal/shop"
)

// The states on PREFIX/SHOP/status. The broker itself says the second one when the daemon falls silent.
const (
	online  = "online"
	offline = "offline"
)

// The longest waits for the broker. A token of the client may never complete when the connection is lost at the wrong
// moment, so none is waited for without an end.
const (
	connectLimit = 15 * time.Second
	publishLimit = 10 * time.Second
	partingLimit = 3 * time.Second // for what is left when the daemon stops, and again for the goodbye
	keepAlive    = 30 * time.Second
)

// broker is where to publish.
type broker struct {
	url      string
	name     string // the URL without what may be secret in it
	clientID string
	username string
	password string
	tls      *tls.Config
	status   string // topic
}

// newBroker reads the secrets that the shop file names.
func newBroker(m *shop.MQTT, status string) (broker, error) {
	b := broker{url: m.Broker, name: "the broker", clientID: m.ClientID, username: m.Username, status: status}
	if u, err := url.Parse(m.Broker); err == nil {
		b.name = u.Redacted()
	}
	var err error
	if b.password, b.tls, err = credential.Broker(m); err != nil {
		return b, err
	}
	if b.clientID == "" {
		b.clientID, err = credential.ClientName("ductward-out-")
	}
	return b, err
}

// connection is one connection to the broker; lost is closed when it breaks.
type connection struct {
	client paho.Client
	lost   chan struct{}
}

// connect makes one attempt. The client's own ways of trying again are off: what waits is kept in the outbox.
func (b *broker) connect(ctx context.Context) (*connection, error) {
	c := &connection{lost: make(chan struct{})}
	opt := paho.NewClientOptions().AddBroker(b.url).SetClientID(b.clientID).SetCleanSession(true).
		SetUsername(b.username).SetPassword(b.password).
		SetAutoReconnect(false).SetConnectRetry(false).SetOrderMatters(false).
		SetConnectTimeout(connectLimit).SetWriteTimeout(publishLimit).SetKeepAlive(keepAlive).SetPingTimeout(publishLimit).
		SetWill(b.status, offline, 1, true).
		SetConnectionLostHandler(func(paho.Client, error) { close(c.lost) })
	if b.tls != nil {
		opt.SetTLSConfig(b.tls)
	}
	c.client = paho.NewClient(opt)
	if err := wait(ctx, c.client.Connect(), connectLimit); err != nil {
		c.client.Disconnect(0)
		return nil, fmt.Errorf("connect to %s: %w", b.name, err)
	}
	return c, nil
}

// publish sends one message at QoS 1 and waits until the broker has it.
func (c *connection) publish(ctx context.Context, m message) error {
	if err := wait(ctx, c.client.Publish(m.topic, 1, m.kept, m.payload), publishLimit); err != nil {
		return fmt.Errorf("publish on %q: %w", m.topic, err)
	}
	return nil
}

// wait waits for a token of the client, but not for ever.
func wait(ctx context.Context, t paho.Token, limit time.Duration) error {
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case <-t.Done():
		return t.Error()
	case <-timer.C:
		return fmt.Errorf("no answer within %v", limit)
	case <-ctx.Done():
		return ctx.Err()
	}
}

// run publishes until the context is done. A broker that is away stops nothing: what waits is kept, and the attempts grow
// rarer.
func (o *outward) run(ctx context.Context) error {
	trouble := &trouble{what: "connection to the broker", log: o.log}
	begun := time.Now()
	pause := o.pace.retryFirst
	for ctx.Err() == nil {
		c, err := o.broker.connect(ctx)
		if err == nil {
			_ = trouble.see(time.Since(begun), nil)
			o.log.Info("publishing", "broker", o.broker.name, "topic", o.root)
			connected := time.Now()
			if err = o.serve(ctx, c); err == nil {
				return nil
			}
			if time.Since(connected) > o.pace.retryMost {
				pause = o.pace.retryFirst
			}
		}
		if ctx.Err() != nil {
			return nil
		}
		_ = trouble.see(time.Since(begun), err) // logged there, at first and then seldom
		o.failed(err)
		timer := time.NewTimer(pause)
		select {
		case <-timer.C:
		case <-ctx.Done():
			timer.Stop()
		}
		pause = min(2*pause, o.pace.retryMost)
	}
	return nil
}

// serve publishes over one connection until it breaks, which is an error, or the context is done.
func (o *outward) serve(ctx context.Context, c *connection) error {
	defer c.client.Disconnect(uint(partingLimit.Milliseconds() / 10))
	if err := c.publish(ctx, message{topic: o.broker.status, payload: []byte(online), kept: true}); err != nil {
		return err
	}
	if err := o.repeat(ctx, c); err != nil {
		return err
	}
	for {
		if err := o.drain(ctx, c, false); err != nil && ctx.Err() == nil {
			return err
		}
		select {
		case <-o.estimated.wake:
		case <-o.tells.box.Wake(brokerTarget):
		case <-c.lost:
			return errors.New("the connection was lost")
		case <-ctx.Done():
			return o.part(c)
		}
	}
}

// drain sends all that waits.
func (o *outward) drain(ctx context.Context, c *connection, last bool) error {
	if err := o.ahead(ctx, c); err != nil {
		return err
	}
	return o.values.send(ctx, last, func(ctx context.Context, m message) error {
		if err := o.ahead(ctx, c); err != nil { // there may be days of values
			return err
		}
		return c.publish(ctx, m)
	})
}

// ahead sends what goes ahead of values: alarms, then estimates.
func (o *outward) ahead(ctx context.Context, c *connection) error {
	for {
		if it, ok := o.tells.box.Waiting(brokerTarget); ok {
			if err := c.publish(ctx, o.message(&it)); err != nil {
				return err
			}
			o.tells.sent(&it)
			continue
		}
		m, ok := o.estimated.first()
		if !ok {
			return nil
		}
		if err := c.publish(ctx, m); err != nil {
			return err
		}
		o.estimated.taken(m)
	}
}

// part sends what is left and says goodbye, each within a limit. A broker that does not listen any more is no failure of the
// daemon's.
func (o *outward) part(c *connection) error {
	within := func(do func(context.Context) error) error {
		ctx, cancel := context.WithTimeout(context.Background(), partingLimit)
		defer cancel()
		return do(ctx)
	}
	err := errors.Join(
		within(func(ctx context.Context) error { return o.drain(ctx, c, true) }),
		within(func(ctx context.Context) error {
			return c.publish(ctx, message{topic: o.broker.status, payload: []byte(offline), kept: true})
		}))
	if err != nil {
		o.log.Warn("the broker did not take the last messages", "err", err)
	}
	return nil
}
